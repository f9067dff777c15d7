"""What a closed line does to its duty, its faults and its machine; done, undone, and done again.

A line keeps its duty as it was before (`Line.duty_before`). A correction puts the duty back to that, lets the
line take effect as corrected, and then the lines closed after it, each once more. Marks that a rule gives are
worked out again by the refresh that follows, so only the work itself has to be put back here.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import Q, QuerySet

from fleet.models import Machine
from fleet.readings import attachment_hours
from fleet.readings.propagation import expect_differently
from servicing.duties.completion import Done, complete_duties, defer_duty
from servicing.models import Duty, Fault, Line, WorkOrder

HOURS = ("mark_hours", "last_hours", "met_hours", "forward_hours", "rule_hours")
DAYS = ("mark_on", "last_on", "met_on", "unknown_on", "deferred_until")
PLAIN = ("active", "forward_check_id", "forward_reason", "deferred_reason")


def apply_outcomes(lines: Sequence[Line], hours: Decimal, today: date, finished_at: datetime) -> None:
    """Let what came of an order's lines take effect, in the caller's transaction.

    hours: those of the order's machine. today: the yard's day on which the work was finished. An attachment's
    work is done at its own hours of that moment. Asks a constant number of queries, however many lines, but
    for those deferred or not fitted.
    """
    attached = {line.machine.pk: line.machine for line in lines if line.machine.pk != line.order.machine_id}
    own_hours = {pk: _attachment_hours(machine, finished_at) for pk, machine in attached.items()}
    for line in lines:
        met = line.outcome in Line.MEETS_THE_MARK
        at = own_hours.get(line.machine.pk, hours)
        line.done_hours, line.done_on = (at, today) if met else (None, None)
        line.duty_before = _state(line.duty) if line.duty else None
    Line.objects.bulk_update(lines, ["done_hours", "done_on", "duty_before"])
    done = [line for line in lines if line.outcome in Line.MEETS_THE_MARK]
    Fault.objects.open().filter(line__in=done).update(fixed_at=finished_at)
    _move_duties(lines, today)


def reapply_outcome(line: Line, was: str, hours: Decimal, today: date, finished_at: datetime) -> None:
    """Let a corrected line take effect in the place of what it said before, and later lines after it.

    was: the outcome it had. The rest is as for `apply_outcomes`.
    """
    later = list(_later(line))
    if line.duty:
        _restore(line.duty, line.duty_before or _as_planned(line))
    if was == Line.Outcome.NOT_FITTED and line.task:
        line.machine.fitments.add(*line.task.needs.all())
        expect_differently([line.machine.pk])
    if line.outcome not in Line.MEETS_THE_MARK:
        line.faults.filter(fixed_at=finished_at).update(fixed_at=None)
    apply_outcomes([line], hours, today, finished_at)
    for following in later:
        assert following.duty is not None
        following.duty.refresh_from_db()
        following.duty_before = _state(following.duty)
        following.save(update_fields=["duty_before"])
        _move_duties([following], following.order.machine.today(following.order.closed_at))


def _move_duties(lines: Iterable[Line], day: date) -> None:
    """Move the lines' duties by their outcomes, which were decided on that day."""
    done = []
    for line in lines:
        if not line.duty:
            continue
        if line.outcome in Line.MEETS_THE_MARK and line.done_hours is not None and line.done_on:
            done.append(Done(line.duty, line.done_hours, line.done_on))
        elif line.outcome == Line.Outcome.DEFERRED and line.deferred_until:
            defer_duty(duty=line.duty, until=line.deferred_until, reason=line.reason, on=day)
        elif line.outcome == Line.Outcome.NOT_FITTED and line.task:
            Duty.objects.filter(pk=line.duty.pk).update(active=False)
            line.machine.fitments.remove(*line.task.needs.all())
            expect_differently([line.machine.pk])
    complete_duties(done)


def _later(line: Line) -> QuerySet[Line]:
    """Lines of the same duty that were closed after this one, the earliest first."""
    at = line.order.closed_at
    return (
        Line.objects.filter(duty=line.duty_id, order__state=WorkOrder.State.CLOSED)
        .exclude(duty=None)
        .filter(Q(order__closed_at__gt=at) | Q(order__closed_at=at, order__pk__gt=line.order_id))
        .select_related("duty", "task", "order__machine__yard__organisation")
        .order_by("order__closed_at", "order__pk")
    )


def _attachment_hours(machine: Machine, at: datetime) -> Decimal:
    course = attachment_hours.histories([machine.pk], until=at)
    if course:
        return course[-1].hours
    machine.refresh_from_db(fields=["hours"])
    return machine.hours


def _as_planned(line: Line) -> dict[str, Any]:
    """The duty as it was for a line closed before `duty_before` was kept: its marks, and the work before."""
    last = (
        Line.objects.filter(duty=line.duty_id, order__state=WorkOrder.State.CLOSED)
        .filter(outcome__in=Line.MEETS_THE_MARK, order__closed_at__lt=line.order.closed_at)
        .order_by("-order__closed_at")
        .first()
    )
    known = Duty(mark_hours=line.mark_hours, mark_on=line.mark_on)
    if last:
        known.last_hours, known.last_on = last.done_hours, last.done_on
        known.met_hours, known.met_on = last.mark_hours, last.mark_on
    return _state(known)


def _state(duty: Duty) -> dict[str, Any]:
    """Return the duty's marks and work as JSON keeps them; `_restore` reads it."""
    said: dict[str, Any] = {name: getattr(duty, name) for name in PLAIN}
    said |= {name: None if (at := getattr(duty, name)) is None else str(at) for name in HOURS}
    said |= {name: None if (on := getattr(duty, name)) is None else on.isoformat() for name in DAYS}
    return said


def _restore(duty: Duty, said: dict[str, Any]) -> None:
    """Put the duty back to what it was, and ask for its machine's refresh."""
    for name in PLAIN:
        setattr(duty, name, said.get(name))  # no check's id was kept of lines closed before there was one
    for name in HOURS:
        setattr(duty, name, None if said[name] is None else Decimal(said[name]))
    for name in DAYS:
        day = said.get(name)  # of lines closed before there was one, nothing was kept
        setattr(duty, name, None if day is None else date.fromisoformat(day))
    duty.early = duty.likely = duty.late = None
    duty.save()
    expect_differently([duty.machine_id])
