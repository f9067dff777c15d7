"""An hour meter is replaced, or rolls over: total hours go on, and earlier readings keep their meter."""

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from typing import TypeVar

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.models import Decision, Machine, Member, MeterSegment, Reading
from fleet.readings.door import NO_METER
from fleet.readings.meter_history import Courses
from fleet.readings.propagation import hours_moved
from fleet.readings.rejudging import CHANGED
from fleet.readings.submission import MOST_HOURS, Unreadable, read_hours, read_moment
from fleet.usage.figures import hours, long_day

T = TypeVar("T")
COUNTED_BY_CHANGE = gettext_lazy("Counted when the meter change was recorded.")


DECIDED = ["decided_by", "decided_at", "decision"]


def replace(
    *, machine: Machine, at: datetime, old_shows: Decimal, new_shows: Decimal, member: Member, note: str = ""
) -> MeterSegment:
    """Record that a new meter took the old one's place; return the new meter's segment.

    at: when it was done. old_shows, new_shows: what the two meters showed then, in hours. Both become counted
    readings. Held readings from that moment on are taken as readings of the new meter, and counted where they
    are plausible as such.
    Raises NotAllowed; FleetError on `at`, `old_shows` or `new_shows` when these can't be true.
    """
    return _change(
        MeterSegment.Began.REPLACED, machine, at, "old_shows", old_shows, new_shows, member, note.strip()
    )


def roll_over(
    *, machine: Machine, at: datetime, wraps_at: Decimal, member: Member, note: str = ""
) -> MeterSegment:
    """Record that the meter ran past its last figure and began at zero again; return its new segment.

    at: when, as well as it is known. wraps_at: the hours after which it shows zero, such as 10 000.
    Readings are treated as in `replace`. Raises NotAllowed; FleetError on `at` or `wraps_at`.
    """
    return _change(
        MeterSegment.Began.ROLLED_OVER, machine, at, "wraps_at", wraps_at, Decimal(0), member, note.strip()
    )


def _change(
    began: str,
    machine: Machine,
    at: datetime,
    last_field: str,
    last: Decimal,
    first: Decimal,
    member: Member,
    note: str,
) -> MeterSegment:
    now = timezone.now()
    require(member, "manage_fleet", _("change meters"), machine)
    if machine.is_attachment:
        raise FleetError(NO_METER.format(machine=machine))
    at = _read(read_moment, at, "at")
    last, first = _read(read_hours, last, last_field), _read(read_hours, first, "new_shows")
    if at > now:
        raise FleetError(_("That time is in the future. Give an earlier one."), field="at")
    with transaction.atomic():
        Machine.objects.select_for_update().get(pk=machine.pk)
        course = Courses([machine], since=at, until=now).at(machine.pk, at)
        old = MeterSegment.objects.get(pk=course.meter.pk)
        if old.ended_at is not None or at < old.started_at:
            raise FleetError(
                _("This meter wasn't on the machine yet at that time. Give a later one."), field="at"
            )
        _refuse_later_readings(machine, at)
        total = last + old.offset
        if total > MOST_HOURS:
            raise FleetError(_("The total can't be right. Read the meter again."), field=last_field)
        verdict = course.judge(at, last, zone=machine.zoneinfo, now=now)
        if not verdict.counted:
            raise FleetError(verdict.reason, field=last_field)

        old.ended_at = at
        old.save(update_fields=["ended_at"])
        new = MeterSegment.objects.create(
            organisation_id=machine.organisation_id,
            machine=machine,
            began=began,
            started_at=at,
            shows_at_start=first,
            offset=total - first,
            recorded_by=member,
            recorded_at=now,
            note=note,
        )
        for segment, shows in ((old, last), (new, first)):
            _record(segment, machine, at, shows, member, now)
        _rejudge_held(machine, new, member, now)
        hours_moved({machine.pk: machine}, now=now)
    return new


def _refuse_later_readings(machine: Machine, at: datetime) -> None:
    later = Reading.history(machine=machine).after(at).first()
    if later is not None:
        raise FleetError(
            _(
                "A reading of {hours} of {day} was counted after that; give a later moment, or discard that "
                "reading first."
            ).format(hours=hours(later.shows), day=_day(later.taken_at, machine)),
            field="at",
        )


def _record(
    segment: MeterSegment, machine: Machine, at: datetime, shows: Decimal, member: Member, now: datetime
) -> None:
    """Keep what a meter showed at its end or start as a counted reading, unless there is one."""
    same = Reading.objects.filter(machine=machine, taken_at=at, shows=shows).first()
    if same is None:
        Reading.objects.create(
            organisation_id=machine.organisation_id,
            machine=machine,
            segment=segment,
            taken_at=at,
            shows=shows,
            hours=shows + segment.offset,
            state=Reading.State.COUNTED,
            code="ok",
            source=Reading.Source.METER,
            taken_by=member,
            received_at=now,
        )


def _rejudge_held(machine: Machine, new: MeterSegment, member: Member, now: datetime) -> None:
    """Hand the held readings since the change to the new meter and judge them again, in time order."""
    held = [
        reading
        for reading in Reading.objects.held().filter(machine=machine, taken_at__gte=new.started_at)
        if 0 <= reading.shows + new.offset <= MOST_HOURS
    ]
    if not held:
        return
    courses = Courses([machine], since=new.started_at, until=held[-1].taken_at)
    said = str(COUNTED_BY_CHANGE)
    for reading in held:
        reading.segment, reading.hours = new, reading.shows + new.offset
        courses.judge(reading, now=now)
        if reading.state == Reading.State.COUNTED:
            reading.decided_by, reading.decided_at, reading.decision = member, now, said
    Reading.objects.bulk_update(held, ["segment", "hours", *CHANGED, *DECIDED], batch_size=500)
    Decision.objects.bulk_create(
        Decision(
            organisation_id=reading.organisation_id,
            reading=reading,
            kind=Decision.Kind.METER,
            was=Reading.State.HELD,
            became=reading.state,
            by=member,
            at=now,
            note=said,
        )
        for reading in held
        if reading.state == Reading.State.COUNTED
    )


def _read(reader: Callable[[object], T], value: object, field: str) -> T:
    try:
        return reader(value)
    except Unreadable as error:
        raise FleetError(error.reason, field=field) from None


def _day(moment: datetime, machine: Machine) -> str:
    return long_day(moment.astimezone(machine.zoneinfo))
