"""One batch of readings on its way in: read, matched to machines and meters, judged, kept."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.db.models import Q
from django.db.models.functions import Lower

from fleet import bulk, tokens
from fleet.clocks import Clock
from fleet.courses import Courses
from fleet.models import ApiToken, Machine, Member, MeterSegment, Organisation, Reading
from fleet.models.machine import share_yards_and_types
from fleet.submitted import (
    COUNTED,
    DUPLICATE,
    HELD,
    MOST_HOURS,
    REFUSED,
    Receipt,
    Row,
    Submitted,
    Unreadable,
    read_row,
    readable_client_id,
)

UNKNOWN = "No machine here has the {kind} {name!r}."
NO_METER = "{machine} has no meter; it runs with the machine it hangs on."
OUT_OF_REACH = "This token may not send for {machine}; it is limited to certain machines or yards."
TOTAL_WRONG = "With what its earlier meters ran, the machine's total can't be right; read it again."
Seen = int | Reading  # a reading received before, by its id; or one of this batch


@dataclass
class Batch:
    """Rows of one sender; to be used in one transaction, with the organisation's scope open."""

    organisation: Organisation
    source: str
    sender: str
    member: Member | None
    token: ApiToken | None
    now: datetime
    moved: dict[int, Machine] = field(default_factory=dict)
    """After `take`: the machines of which something was counted."""
    earliest: dict[int, datetime] = field(default_factory=dict)
    """For each of these the earliest reading that was counted."""
    between: set[int] = field(default_factory=set)
    """Those of them on which that fell between readings counted before."""

    def take(self, rows: Sequence[Submitted]) -> list[Receipt]:
        """Keep what can be kept; return a receipt for each row, in order.

        Raises IntegrityError when another sender got the same client id in meanwhile: run it again.
        """
        receipts: dict[int, Receipt] = {}
        readable: dict[int, Row] = {}
        for number, sent in enumerate(rows):
            try:
                readable[number] = read_row(sent)
            except Unreadable as error:
                receipts[number] = Receipt(
                    REFUSED, error.code, error.reason, client_id=readable_client_id(sent)
                )
        machines = find_machines(self.organisation, {row.machine for row in readable.values()})
        reach = tokens.reach_of(self.token)
        found: dict[int, tuple[Row, Machine]] = {}
        for number, row in readable.items():
            machine = machines.get(row.machine)
            if machine is not None and reach is not None and not reach.holds(machine):
                receipts[number] = Receipt(
                    REFUSED,
                    "out_of_reach",
                    OUT_OF_REACH.format(machine=machine),
                    client_id=row.client_id,
                )
            elif machine is not None and machine.is_attachment:
                receipts[number] = Receipt(
                    REFUSED,
                    "no_meter",
                    NO_METER.format(machine=machine),
                    machine=machine,
                    client_id=row.client_id,
                )
            elif machine is not None:
                found[number] = (row, machine)
            else:
                kind = "id" if isinstance(row.machine, int) else "tag or serial number"
                reason = UNKNOWN.format(kind=kind, name=row.machine)
                receipts[number] = Receipt(REFUSED, "unknown_machine", reason, client_id=row.client_id)
        if found:
            receipts |= self._place(found)
        return [receipts[number] for number in range(len(rows))]

    def _place(self, found: dict[int, tuple[Row, Machine]]) -> dict[int, Receipt]:
        """Tell the new rows from those received before, judge the new ones in time order and keep them."""
        receipts: dict[int, Receipt] = {}
        moments = [row.taken_at for row, _ in found.values()]
        machines = {machine.pk: machine for _, machine in found.values()}
        courses = Courses(machines.values(), since=min(moments), until=max(moments))
        by_client_id: dict[str, Seen] = dict(self._received({row.client_id for row, _ in found.values()}))
        by_figure: dict[tuple[int, datetime, Decimal], Seen] = dict(courses.received)
        new: dict[int, Reading] = {}
        again: dict[int, Seen] = {}
        for number, (row, machine) in found.items():
            figure = (machine.pk, row.taken_at, row.shows)
            seen = by_client_id.get(row.client_id or "") or by_figure.get(figure)
            if seen is not None:
                again[number] = seen
                continue
            segment = courses.at(machine.pk, row.taken_at).segment
            total = row.shows + segment.offset
            if not 0 <= total <= MOST_HOURS:
                receipts[number] = Receipt(
                    REFUSED, "unreadable_hours", TOTAL_WRONG, machine=machine, client_id=row.client_id
                )
                continue
            new[number] = by_figure[figure] = self._reading(row, machine, segment, total)
            if row.client_id:
                by_client_id[row.client_id] = new[number]
        clock = self._clock(new.values())
        for reading in sorted(new.values(), key=lambda reading: reading.taken_at):
            if clock is not None and clock.holds(reading):
                continue
            courses.settle(reading, now=self.now)
            if clock is not None:
                clock.explain(reading)
            if reading.state == Reading.State.COUNTED:
                self.moved[reading.machine_id] = reading.machine
                self.earliest.setdefault(reading.machine_id, reading.taken_at)
        self.between = courses.late
        bulk.insert(list(new.values()))
        receipts |= {number: _new_receipt(reading) for number, reading in new.items()}
        return receipts | _receipts_again(again, found)

    def _clock(self, new: Iterable[Reading]) -> Clock | None:
        """The clock of the device that sends; None for a person, who names a time by hand."""
        if self.token is None or not self.token.is_device:
            return None
        return Clock(self.token, now=self.now, sent=[reading.taken_at for reading in new])

    def _received(self, client_ids: Collection[str | None]) -> Iterable[tuple[str, int]]:
        ids = {client_id for client_id in client_ids if client_id}
        if not ids:
            return ()
        return Reading.objects.filter(
            organisation=self.organisation, sender=self.sender, client_id__among=ids
        ).values_list("client_id", "pk")

    def _reading(self, row: Row, machine: Machine, segment: MeterSegment, total: Decimal) -> Reading:
        values = {
            **self._same,
            "machine_id": machine.pk,
            "segment_id": segment.pk,
            "taken_at": row.taken_at,
            "shows": row.shows,
            "hours": total,
            "client_id": row.client_id,
            "note": row.note,
        }
        reading = Reading(*values.values())
        reading.machine = machine
        return reading

    @cached_property
    def _same(self) -> dict[str, Any]:
        """What is the same in all readings of the batch, and the order in which Reading takes its values."""
        alike = Reading(
            organisation=self.organisation,
            source=self.source,
            sender=self.sender,
            taken_by=self.member,
            token=self.token,
            received_at=self.now,
        )
        return {field.attname: getattr(alike, field.attname) for field in Reading._meta.concrete_fields}


def find_machines(organisation: Organisation, names: Collection[int | str]) -> dict[int | str, Machine]:
    """Return the machines by the names they were called by, locked until the transaction ends.

    An integer is an id; text is a tag in any case, else a serial number. Locked in the order of their ids, so
    that two batches over the same machines wait for each other instead of standing in each other's way.
    """
    ids = _ids(organisation, names)
    machines = (
        Machine.objects.filter(organisation=organisation, pk__among=set(ids.values()))
        .select_for_update(of=("self",))
        .order_by("pk")
    )
    by_id = {machine.pk: machine for machine in machines}
    share_yards_and_types(by_id.values())
    return {name: by_id[pk] for name, pk in ids.items() if pk in by_id}


def _ids(organisation: Organisation, names: Collection[int | str]) -> dict[int | str, int]:
    """Return the ids of the machines by those names; a name nobody has is left out."""
    own = Machine.objects.filter(organisation=organisation)
    numbers = [name for name in names if isinstance(name, int) and 0 < name < 2**63]
    # databases differ in which letters they can lower: all of them, or those of ASCII alone
    lowered = {name: {name.lower(), _lower_ascii(name)} for name in names if isinstance(name, str)}
    tags = (
        own.annotate(tag_lower=Lower("tag"))
        .filter(
            Q(pk__among=numbers) | Q(tag_lower__among={each for both in lowered.values() for each in both})
        )
        .values_list("pk", "tag")
    )
    known: dict[int | str, int] = {}
    for pk, tag in tags:
        known[pk] = known[tag.lower()] = pk
    ids = {name: known[_key(name)] for name in names if _key(name) in known}
    if unknown := lowered.keys() - ids.keys():
        ids |= own.filter(serial__among=unknown).values_list("serial", "pk")
    return ids


def _key(name: int | str) -> int | str:
    return name.lower() if isinstance(name, str) else name


def _lower_ascii(text: str) -> str:
    return text.encode().lower().decode()


def _new_receipt(reading: Reading) -> Receipt:
    state = COUNTED if reading.state == Reading.State.COUNTED else HELD
    return Receipt(state, reading.code, reading.reason, reading, reading.machine, reading.client_id)


def _receipts_again(again: dict[int, Seen], found: dict[int, tuple[Row, Machine]]) -> dict[int, Receipt]:
    earlier = Reading.objects.in_bulk({seen for seen in again.values() if isinstance(seen, int)})
    receipts = {}
    for number, seen in again.items():
        row, machine = found[number]
        reading = earlier[seen] if isinstance(seen, int) else seen
        reason = "This reading had been received already."
        if (reading.machine_id, reading.taken_at, reading.shows) != (machine.pk, row.taken_at, row.shows):
            reason = "An entry with this client id, but with other figures, had been received already."
        if reading.machine_id == machine.pk:
            reading.machine = machine
        receipts[number] = Receipt(DUPLICATE, "duplicate", reason, reading, machine, row.client_id)
    return receipts
