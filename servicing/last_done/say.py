"""What people say of when work was last done is judged, kept, and counted from."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core import wording
from fleet.core.errors import FleetError, WrongState
from fleet.core.permission import require
from fleet.models import Member
from fleet.readings.propagation import expect_differently
from servicing.duties.completion import MOVED
from servicing.last_done.asked import Cell, State
from servicing.last_done.courses import read_courses, read_courses_with_pace
from servicing.last_done.estimate import Course
from servicing.last_done.typed import Said
from servicing.models import Duty, LastDone
from servicing.planning.intervals import INSPECT_WITHIN, Mark, next_mark

FIRST_DAY = date(1950, 1, 1)


@dataclass(frozen=True)
class Statement:
    """What was said of one cell."""

    cell: Cell
    said: Said


@dataclass(frozen=True)
class Known:
    """When work was last done, whole: what was said, and what was estimated for the rest."""

    hours: Decimal
    on: date


def changed(statements: Sequence[Statement]) -> list[Statement]:
    """Return those that say something else than is known already."""
    return [each for each in statements if _before(each.cell) != each.said]


def judge(statements: Sequence[Statement], *, now: datetime) -> dict[int, FleetError]:
    """Return what is wrong with statements, by their place; nothing is kept.

    Asks a constant number of queries.
    """
    courses = read_courses([each.cell.machine for each in statements], now)
    wrong = {}
    for place, each in enumerate(statements):
        try:
            _check(each, courses[each.cell.machine.pk], now)
        except FleetError as error:
            wrong[place] = error
    return wrong


@transaction.atomic
def say(*, statements: Sequence[Statement], member: Member | None, now: datetime | None = None) -> int:
    """Keep what was said of when work was last done, and count from it; return how many were new.

    The half that wasn't said, the day or the hours, is estimated from the readings, at the machine's pace
    beyond them. Work that nobody knows of falls due for an inspection. member: None for the operator.
    Raises NotAllowed; WrongState where an order has recorded work meanwhile; FleetError on the first that
    can't be.
    """
    now = now or timezone.now()
    if member is not None:
        machines = {each.cell.machine.pk: each.cell.machine for each in statements}
        require(member, "manage_fleet", _("say when work was last done"), *machines.values())
    new = changed(statements)
    if not new:
        return 0
    for error in judge(new, now=now).values():
        raise error
    courses = read_courses_with_pace([each.cell.machine for each in new], now)
    duties = _duties(new)
    kept = []
    for each in new:
        duty = duties[each.cell.machine.pk, each.cell.task.pk]
        _count_from(duty, each, courses[each.cell.machine.pk], now)
        kept.append(
            LastDone(
                organisation_id=duty.organisation_id,
                duty=duty,
                hours=each.said.hours,
                on=each.said.on,
                unknown=each.said.unknown,
                said_by=member,
                said_at=now,
            )
        )
    Duty.objects.bulk_update(duties.values(), MOVED)
    LastDone.objects.bulk_create(kept)
    expect_differently({duty.machine_id for duty in duties.values()})
    return len(kept)


def _before(cell: Cell) -> Said | None:
    said = cell.said
    return Said(said.hours, said.on, said.unknown) if said and cell.state != State.RECORDED else None


def _check(each: Statement, course: Course, now: datetime) -> None:
    """Raise FleetError where it can't be so."""
    machine, said, today = each.cell.machine, each.said, each.cell.machine.today(now)
    if each.cell.state == State.RECORDED:
        raise WrongState(_("An order has recorded this work. Correct that order."))
    if said.on is not None and said.on > today:
        raise FleetError(_("That day is in the future. Give an earlier one."), field="on")
    if said.on is not None and said.on < FIRST_DAY:
        raise FleetError(_("That day is too long ago. Give a later one."), field="on")
    if said.unknown:
        return
    if not course.is_known:
        unread = _("No hours of {machine} are known yet. Enter what its meter shows first.")
        raise FleetError(unread.format(machine=machine))
    if said.hours is not None and said.hours > machine.hours:
        raise FleetError(
            _("{machine} has run {hours} so far. Give no more.").format(
                machine=machine, hours=wording.hours(machine.hours)
            ),
            field="hours",
        )
    if said.hours is not None and said.on is not None and (bounds := course.between(said.on)):
        least, most = bounds
        if not least <= said.hours <= most:
            raise FleetError(
                _("By its readings it had {least} to {most} on {day}.").format(
                    least=wording.hours(least), most=wording.hours(most), day=wording.day_of_year(said.on)
                ),
                field="hours",
            )


def _count_from(duty: Duty, each: Statement, course: Course, now: datetime) -> None:
    """Move the duty to where the statement puts it; the refresh that follows works it out again."""
    today, rule = each.cell.machine.today(now), each.cell.rule
    mark: Mark | None
    if each.said.unknown:
        duty.last_hours = duty.last_on = None
        duty.unknown_on = today
        by = today + INSPECT_WITHIN
        mark = Mark(duty.mark_hours if duty.active else None, min(duty.mark_on or by, by))
    else:
        known = whole(each.said, course, today)
        duty.last_hours, duty.last_on, duty.unknown_on = known.hours, known.on, None
        mark = next_mark(rule, Mark(), known.hours, known.on)
    duty.met_hours = duty.met_on = None
    duty.active = mark is not None
    duty.mark_hours, duty.mark_on = (mark.hours, mark.on) if mark else (None, None)
    duty.forward_hours = duty.forward_check = duty.rule_hours = None
    duty.forward_reason = ""
    duty.early = duty.likely = duty.late = None


def whole(said: Said, course: Course, today: date) -> Known:
    """Return a statement with the half that wasn't said estimated."""
    if said.on is not None:
        return Known(course.hours_on(said.on) if said.hours is None else said.hours, said.on)
    assert said.hours is not None  # one of the two is there unless it is unknown
    return Known(said.hours, course.day_at(said.hours, today=today))


def _duties(statements: Sequence[Statement]) -> dict[tuple[int, int], Duty]:
    """The duties that these are about, locked; made where there is none yet. Raises WrongState."""
    there = [each.cell.duty.pk for each in statements if each.cell.duty]
    locked = Duty.objects.select_for_update(of=("self",)).order_by("pk").in_bulk(there)
    made = Duty.objects.bulk_create(
        [
            Duty(
                organisation_id=each.cell.machine.organisation_id,
                machine_id=each.cell.machine.pk,
                task=each.cell.task,
                active=False,
            )
            for each in statements
            if not each.cell.duty
        ],
        ignore_conflicts=True,
    )
    if made:
        pairs = {(duty.machine_id, duty.task_id) for duty in made}
        rows = Duty.objects.select_for_update(of=("self",)).filter(
            machine__in={machine for machine, _task in pairs}, task__in={task for _machine, task in pairs}
        )
        locked |= {duty.pk: duty for duty in rows.order_by("pk") if (duty.machine_id, duty.task_id) in pairs}
    duties = {}
    for each in statements:
        key = (each.cell.machine.pk, each.cell.task.pk)
        duty = locked.get(each.cell.duty.pk) if each.cell.duty else None
        duty = duty or next((row for row in locked.values() if (row.machine_id, row.task_id) == key), None)
        if duty is None or (each.cell.duty and duty.last_on != each.cell.duty.last_on):
            raise WrongState(_("Somebody has just changed this. Look at it once more."))
        duties[key] = duty
    return duties
