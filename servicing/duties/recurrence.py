"""Duties as often as they fall due within the days ahead: most work comes round again."""

from collections.abc import Collection
from copy import copy
from datetime import date, datetime, timedelta

from servicing.duties import accuracy, expected_work, machine_hours, projection
from servicing.duties.applicability import rule_for
from servicing.models import Duty
from servicing.planning.intervals import Mark
from servicing.planning.recurrence import marks_after


def each_time(duties: Collection[Duty], *, until: date, now: datetime) -> list[Duty]:
    """Return these duties, and a copy for each later time that they likely fall due by the day `until`.

    A copy has the later mark and its days, and no id, order or reason of its own; the work is taken as done
    each time where it falls due. The duties come with machine, type, overrides, yard and organisation; needs
    the organisation's scope. Asks a constant number of queries. Ordered by likely day.
    """
    if not duties:
        return []
    tasks = expected_work.tasks_of(duties)
    span = max((until - duty.machine.today(now)).days for duty in duties)
    back = machine_hours.look_back(span)
    paces = machine_hours.paces(list({duty.machine for duty in duties}), now, days=back)
    later: list[tuple[Duty, Mark]] = []
    for duty in duties:
        rule, machine = rule_for(tasks[duty.task_id], duty.machine), duty.machine
        if rule is None or rule.once:
            continue
        pace = paces[machine.pk]
        marks = marks_after(
            rule,
            duty.mark,
            hours=machine.hours,
            on=machine.today(now),
            pace=expected_work.implied_pace(duty, now) if pace is None else pace,
            until=until + timedelta(days=span // 2),  # the projection may be faster than the pace
        )
        later += [(duty, mark) for mark in marks]
    found = projection.days(
        [(duty.machine, mark) for duty, mark in later], now=now, correction=accuracy.correction()
    )
    again = [
        _again(duty, mark, days)
        for (duty, mark), days in zip(later, found, strict=True)
        if days.likely and days.likely <= until
    ]
    return sorted([*duties, *again], key=lambda duty: duty.likely or date.max)


def _again(duty: Duty, mark: Mark, days: projection.Days) -> Duty:
    """A later time of a duty, not to be saved."""
    later = copy(duty)
    later.pk = None
    later.mark_hours, later.mark_on = mark.hours, mark.on
    later.forward_hours = later.forward_check = later.rule_hours = None
    later.forward_reason = ""
    later.early, later.likely, later.late = days
    later.order_number = later.order_id = None
    return later
