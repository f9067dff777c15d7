"""The one door through which every hour reading comes in, and what people decide about it afterwards."""

from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import datetime
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.db.models import F, OuterRef, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils import timezone
from django_scopes import scope

from fleet import mounted
from fleet.batch import Batch
from fleet.courses import Courses
from fleet.errors import FleetError, NotAllowed, WrongState
from fleet.models import ApiToken, Machine, Member, MeterSegment, Organisation, Reading
from fleet.models.fields import HoursField
from fleet.submitted import MOST_HOURS, Receipt, Submitted, Unreadable, read_hours, read_moment

__all__ = ["Receipt", "Submitted", "correct", "count", "hours_moved", "strike", "take", "when_hours_move"]

when_hours_move: list[Callable[[Collection[int]], None]] = []
"""Called with machine ids, after commit, when what was counted of these machines changed."""

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

    source: one of Reading.Source. sender: who sent it, up to 80 characters; client ids are the sender's own.
    """
    now = now or timezone.now()
    for left in reversed(range(TRIES)):
        batch = Batch(organisation, source, sender, member, token, now)
        try:
            with scope(organisation=organisation), transaction.atomic():
                receipts = batch.take(rows)
                hours_moved(batch.moved, now=now)
                return receipts
        except IntegrityError:
            if not left:
                raise
    raise AssertionError("the last try returns or raises")


def hours_moved(machines: Mapping[int, Machine], *, now: datetime) -> None:
    """Set these machines' hours from their latest counted reading and have their duties projected.

    The hours of attachments among them, and of those that hang or hung on them, follow. Call it in the
    transaction that changed what is counted. The instances given get the new figures.
    """
    if not machines:
        return
    latest = Reading.objects.counted().filter(machine=OuterRef("pk")).order_by("-taken_at", "-pk")
    meter = MeterSegment.objects.filter(machine=OuterRef("pk")).order_by("-started_at", "-pk")
    Machine.objects.metered().filter(pk__in=machines).update(
        hours=Coalesce(
            Subquery(latest.values("hours")[:1]),
            Subquery(meter.values(total=F("shows_at_start") + F("offset"))[:1]),
            Value(Decimal(0)),
            output_field=HoursField(),
        ),
        hours_at=Subquery(latest.values("taken_at")[:1]),
        projection_wanted_at=now,
    )
    following = mounted.follow(list(machines), now=now)
    for pk, hours, hours_at in Machine.objects.filter(pk__in=machines).values_list("pk", "hours", "hours_at"):
        machines[pk].hours, machines[pk].hours_at = hours, hours_at
        machines[pk].projection_wanted_at = now
    moved = list(machines | following)
    # a failure there is logged and no more: a sweep finds the machines by projection_wanted_at
    transaction.on_commit(lambda: _tell(moved), robust=True)


def _tell(machine_ids: list[int]) -> None:
    for told in when_hours_move:
        told(machine_ids)


def count(*, reading: Reading, member: Member, note: str = "") -> Reading:
    """Let a held reading count as it stands.

    Raises NotAllowed; WrongState when it isn't held any more; FleetError when it is still to come.
    """
    now = timezone.now()
    with transaction.atomic():
        machine = _lock(reading, member)
        _expect(reading, Reading.State.HELD)
        if reading.taken_at > now:
            raise FleetError("This reading is dated in the future; correct its time, or strike it.")
        _decide(reading, Reading.State.COUNTED, member, note, now)
        hours_moved({machine.pk: machine}, now=now)
    return reading


def strike(*, reading: Reading, member: Member, note: str) -> Reading:
    """Withdraw a held or a counted reading; it is kept, with the reason. The machine's hours follow.

    Raises NotAllowed; WrongState when it is struck already; FleetError on `note` when no reason is given.
    """
    now = timezone.now()
    if not note.strip():
        raise FleetError("Say why the reading is struck.", field="note")
    with transaction.atomic():
        machine = _lock(reading, member)
        _expect(reading, Reading.State.HELD, Reading.State.COUNTED)
        counted = reading.state == Reading.State.COUNTED
        _decide(reading, Reading.State.STRUCK, member, note, now)
        if counted:
            hours_moved({machine.pk: machine}, now=now)
    return reading


def correct(
    *,
    reading: Reading,
    shows: Decimal,
    member: Member,
    note: str = "",
    taken_at: datetime | None = None,
) -> Reading:
    """Put a new, counted reading in the place of a wrong one, which is struck; return the new one.

    shows: what the meter truly showed, in hours. taken_at: when it was truly read, if that was wrong too.
    Raises NotAllowed; WrongState when it is struck already; FleetError on `shows` or `taken_at` when the new
    figures can't be true either or are those of another reading.
    """
    now = timezone.now()
    try:
        shows, moment = read_hours(shows), reading.taken_at
        if taken_at is not None:
            moment = read_moment(taken_at)
    except Unreadable as error:
        field = "taken_at" if "time" in error.code else "shows"
        raise FleetError(error.reason, field=field) from None
    with transaction.atomic():
        machine = _lock(reading, member)
        _expect(reading, Reading.State.HELD, Reading.State.COUNTED)
        courses = Courses([machine], since=moment, until=moment, without=reading.pk)
        if (machine.pk, moment, shows) in courses.received:
            raise FleetError(
                "The machine has a reading of that moment and figure already; count or strike that one.",
                field="shows",
            )
        segment = courses.at(machine.pk, moment).segment
        total = shows + segment.offset
        if not 0 <= total <= MOST_HOURS:
            raise FleetError("The machine's total hours can't be that; read the meter again.", field="shows")
        new = Reading(
            organisation_id=reading.organisation_id,
            machine=machine,
            segment=segment,
            taken_at=moment,
            shows=shows,
            hours=total,
            source=Reading.Source.PAGE,
            sender="correction",
            taken_by=member,
            received_at=now,
            note=note.strip(),
            corrects=reading,
        )
        courses.settle(new, now=now)
        if new.state != Reading.State.COUNTED:
            raise FleetError(new.reason, field="taken_at" if new.code == "from_future" else "shows")
        said = note.strip() or f"Corrected to {shows} h."
        _decide(reading, Reading.State.STRUCK, member, said, now)
        new.save(force_insert=True)
        hours_moved({machine.pk: machine}, now=now)
    return new


def _lock(reading: Reading, member: Member) -> Machine:
    """Lock the reading's machine until the transaction ends, and bring the reading's state up to date."""
    if member.organisation_id != reading.organisation_id or not member.rights.decide_readings:
        raise NotAllowed("Your role does not decide about readings.")
    machine = (
        Machine.objects.select_related("yard__organisation")
        .select_for_update(of=("self",))
        .get(pk=reading.machine_id)
    )
    reading.refresh_from_db(fields=["state", "decided_by", "decided_at", "decision", "segment", "hours"])
    return machine


def _expect(reading: Reading, *states: str) -> None:
    if reading.state not in states:
        by = f" by {reading.decided_by}" if reading.decided_by else ""
        raise WrongState(f"This reading is {reading.get_state_display().lower()} already{by}.")


def _decide(reading: Reading, state: str, member: Member, note: str, now: datetime) -> None:
    reading.state = state
    reading.decided_by, reading.decided_at, reading.decision = member, now, note.strip()
    reading.save(update_fields=["state", "decided_by", "decided_at", "decision"])
