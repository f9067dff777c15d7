"""The one door through which every hour reading comes in. What people decide about it: `decisions`.

A batch is read, matched to machines and meters, judged and kept.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from operator import attrgetter

from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django_scopes import scope

from fleet.accounts import api_tokens
from fleet.core.prepared_queries import prepared
from fleet.models import ApiToken, Member, Organisation, Reading
from fleet.readings import new_reading
from fleet.readings.device_clock import Clock
from fleet.readings.machine_lookup import Found, find_machines
from fleet.readings.meter_history import Courses
from fleet.readings.new_reading import Taken
from fleet.readings.propagation import hours_moved
from fleet.readings.rejudging import rejudge_after_batch
from fleet.readings.submission import (
    COUNTED,
    DUPLICATE,
    HELD,
    MOST_HOURS,
    REFUSED,
    LegibleReading,
    Receipt,
    Submitted,
    Unreadable,
    read_submitted,
    readable_client_id,
)

NO_METER = gettext_lazy("{machine} has no meter; it counts the hours of the machine it is mounted on.")
FIGURE = ("machine_id", "taken_at", "shows")
Seen = int | Taken  # a reading received before, by its id; or one of this batch
TRIES = 3  # two senders may use one client id at the same moment; the next try then sees the other's row


def take(
    *,
    organisation: Organisation,
    rows: Sequence[Submitted],
    source: str,
    sender: str,
    member: Member | None = None,
    token: ApiToken | None = None,
    now: datetime | None = None,
) -> list[Receipt]:
    """Take in readings, one or thousands; return a receipt for each, in the order of `rows`.

    A row that can't be read or whose machine is unknown is refused, an implausible one is kept as held, and
    neither harms the others. A row is a duplicate when this sender has sent its client id before, or when the
    machine has a reading of that moment and figure. Rows are judged in time order, each against the counted
    readings around it on the same meter, those of the same batch included. The number of queries doesn't grow
    with the number of rows.

    source: one of Reading.Source, the kind of sender. sender: which of that kind, up to 80 characters, ""
    where there is but one; client ids are the sender's own.
    """
    now = now or timezone.now()
    for left in reversed(range(TRIES)):
        batch = _Batch(organisation, source, sender, member, token, now)
        try:
            with scope(organisation=organisation), transaction.atomic():
                batch.keep(rows)
                rejudged = rejudge_after_batch(
                    batch.moved, since=batch.earliest, between=batch.between, held=batch.held, now=now
                )
                batch.take_over(rejudged)
                hours_moved(batch.moved, now=now)
                return batch.receipts()
        except IntegrityError:
            if not left:
                raise
    raise AssertionError("the last try returns or raises")


@dataclass
class _Batch:
    """Rows of one sender; to be used in one transaction, with the organisation's scope open."""

    organisation: Organisation
    source: str
    sender: str
    member: Member | None
    token: ApiToken | None
    now: datetime
    moved: dict[int, Found] = field(default_factory=dict)
    """After `keep`: the machines of which something was counted."""
    earliest: dict[int, datetime] = field(default_factory=dict)
    """For each of these the earliest reading that was counted."""
    between: set[int] = field(default_factory=set)
    """Those of them on which that fell between readings counted before."""
    _refused: dict[int, Receipt] = field(default_factory=dict)
    _found: dict[int, tuple[LegibleReading, Found]] = field(default_factory=dict)
    _new: dict[int, Taken] = field(default_factory=dict)
    _again: dict[int, Seen] = field(default_factory=dict)

    def keep(self, rows: Sequence[Submitted]) -> None:
        """Judge the rows and keep what can be kept; `receipts` then tells what became of each.

        Raises IntegrityError when another sender got the same client id in meanwhile: run it again.
        """
        self._match(self._readable(rows))
        if self._found:
            self._place()

    @property
    def held(self) -> set[int]:
        """The ids of the readings that are held."""
        held = (reading for reading in self._new.values() if reading.state == Reading.State.HELD)
        return {reading.pk for reading in held if reading.pk is not None}

    def take_over(self, readings: Iterable[Reading]) -> None:
        """Take over what became of readings that were judged again after the batch was kept."""
        new = {reading.pk: reading for reading in self._new.values()}
        for reading in readings:
            if kept := new.get(reading.pk):
                kept.state, kept.code, kept.reason = reading.state, reading.code, reading.reason

    def receipts(self) -> list[Receipt]:
        """Return a receipt for each row, in order; to be asked once the machines' hours are known."""
        new = {number: _new_receipt(reading) for number, reading in self._new.items()}
        made = self._refused | new | _receipts_again(self._again, self._found)
        return [made[number] for number in sorted(made)]

    def _readable(self, rows: Sequence[Submitted]) -> dict[int, LegibleReading]:
        """The rows that can be read, by their places."""
        readable = {}
        for number, sent in enumerate(rows):
            try:
                readable[number] = read_submitted(sent)
            except Unreadable as error:
                client_id = readable_client_id(sent)
                self._refused[number] = Receipt(REFUSED, error.code, error.reason, client_id=client_id)
        return readable

    def _match(self, rows: dict[int, LegibleReading]) -> None:
        """Find the rows' machines, among those this sender may send for."""
        machines = find_machines(self.organisation, {row.machine for row in rows.values()})
        beyond = api_tokens.beyond_reach(self.token, [machine.pk for machine in machines.values()])
        for number, row in rows.items():
            machine = machines.get(row.machine)
            if machine is None:
                self._refuse(number, row, "unknown_machine", _unknown(row.machine))
            elif machine.pk in beyond:
                said = _("This token may not send for {machine}; it is limited to certain machines or yards.")
                self._refuse(number, row, "out_of_reach", said.format(machine=machine))
            elif machine.is_attachment:
                self._refuse(number, row, "no_meter", NO_METER.format(machine=machine), machine)
            else:
                self._found[number] = (row, machine)

    def _refuse(
        self, number: int, row: LegibleReading, code: str, reason: str, machine: Found | None = None
    ) -> None:
        self._refused[number] = Receipt(REFUSED, code, reason, machine=machine, client_id=row.client_id)

    def _place(self) -> None:
        """Tell the new rows from those received before, judge the new ones in time order and keep them."""
        moments = [row.taken_at for row, _machine in self._found.values()]
        machines = {machine.pk: machine for _row, machine in self._found.values()}
        courses = Courses(machines.values(), since=min(moments), until=max(moments))
        by_client_id: dict[str, Seen] = dict(
            self._received({row.client_id for row, _machine in self._found.values()})
        )
        by_figure: dict[tuple[int, datetime, Decimal], Seen] = dict(courses.received)
        for number, (row, machine) in self._found.items():
            figure = (machine.pk, row.taken_at, row.shows)
            seen = by_client_id.get(row.client_id or "") or by_figure.get(figure)
            if seen is not None:
                self._again[number] = seen
                continue
            meter = courses.at(machine.pk, row.taken_at).meter
            total = row.shows + meter.offset
            if not 0 <= total <= MOST_HOURS:
                said = _(
                    "With its earlier meters' hours, the machine's total can't be right. "
                    "Read the meter again."
                )
                self._refuse(number, row, "unreadable_hours", said, machine)
                continue
            self._new[number] = by_figure[figure] = Taken(
                machine, meter.pk, row.taken_at, row.shows, total, row.client_id, row.note, row.doubt
            )
            if row.client_id:
                by_client_id[row.client_id] = self._new[number]
        self._judge(sorted(self._new.values(), key=attrgetter("taken_at")), courses)
        new_reading.keep(list(self._new.values()), alike=self._alike())

    def _judge(self, new: Sequence[Taken], courses: Courses) -> None:
        """Judge readings, in time order, each against those before it too."""
        clock = self._clock(new)
        for reading in new:
            if reading.doubt:
                reading.state, reading.code = Reading.State.HELD, Reading.IN_DOUBT
                reading.reason = reading.doubt
                continue
            if clock is not None and clock.holds(reading):
                continue
            courses.judge(reading, now=self.now)
            if clock is not None:
                clock.explain(reading)
            if reading.state == Reading.State.COUNTED:
                self.moved[reading.machine_id] = reading.machine
                self.earliest.setdefault(reading.machine_id, reading.taken_at)
        self.between = courses.late

    def _clock(self, new: Iterable[Taken]) -> Clock | None:
        """The clock of the device that sends; None for a person, who names a time by hand."""
        if self.token is None or not self.token.is_device:
            return None
        return Clock(self.token, now=self.now, sent=[reading.taken_at for reading in new])

    def _received(self, client_ids: Collection[str | None]) -> Iterable[tuple[str, int]]:
        ids = [client_id for client_id in client_ids if client_id]
        return (
            _sent_before(own=self.organisation.pk, source=self.source, sender=self.sender, ids=ids)
            if ids
            else ()
        )

    def _alike(self) -> dict[str, object]:
        return {
            "organisation_id": self.organisation.pk,
            "source": self.source,
            "sender": self.sender,
            "taken_by_id": self.member and self.member.pk,
            "token_id": self.token and self.token.pk,
            "received_at": self.now,
            "decision": "",
        }


@prepared
def _sent_before(own: int, source: str, sender: str, ids: list[str]) -> QuerySet:
    sent = Reading.objects.filter(organisation=own, source=source, sender=sender, client_id__among=ids)
    return sent.order_by().values_list("client_id", "pk")


def _unknown(name: int | str) -> str:
    if isinstance(name, int):
        return _("No machine here has the id {name}.").format(name=name)
    return _("No machine here has the fleet number or serial number {name}.").format(name=repr(name))


def _new_receipt(reading: Taken) -> Receipt:
    state = COUNTED if reading.state == Reading.State.COUNTED else HELD
    return Receipt(state, reading.code, reading.reason, reading.pk, reading.machine, reading.client_id)


def _receipts_again(
    again: dict[int, Seen], found: dict[int, tuple[LegibleReading, Found]]
) -> dict[int, Receipt]:
    """The receipts of rows received before, told apart by whether they say the same."""
    earlier = Reading.objects.filter(pk__among={seen for seen in again.values() if isinstance(seen, int)})
    figures: dict[int, list[object]] = {}
    if again:
        figures = {pk: kept for pk, *kept in earlier.order_by().values_list("pk", *FIGURE)}
    receipts = {}
    for number, seen in again.items():
        row, machine = found[number]
        pk, figure = (
            (seen, figures[seen])
            if isinstance(seen, int)
            else (seen.pk, [seen.machine_id, seen.taken_at, seen.shows])
        )
        reason = (
            _("This reading was received already.")
            if figure == [machine.pk, row.taken_at, row.shows]
            else _("An entry with this client id but other figures was received already.")
        )
        receipts[number] = Receipt(DUPLICATE, "duplicate", reason, pk, machine, row.client_id)
    return receipts
