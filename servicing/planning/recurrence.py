"""The marks that follow a mark, while a machine runs on at one pace and its work is done at each of them."""

from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal

from servicing.planning.intervals import Mark, Rule, next_mark

MOST = 400  # marks of one task: more than a year of work every day


def marks_after(
    rule: Rule, due: Mark, *, hours: Decimal, on: date, pace: Decimal | None, until: date
) -> Iterator[Mark]:
    """Yield the marks after `due`, up to the first that is reached after the day `until`, that one included.

    hours, on: what the machine has run by the day `on`. pace: hours a day from then on; None or 0: not known,
    so that marks of hours are never reached. Each time the work is taken as done where it falls due: at once
    where the mark is behind, else when its hours or its date come, whichever is first.
    """
    elapsed, last = Decimal(0), (until - on).days
    for _ in range(MOST):
        by_hours = _days_to(due.hours, hours, pace)
        by_date = None if due.on is None else max(Decimal((due.on - on).days) - elapsed, Decimal(0))
        wait = min((days for days in (by_hours, by_date) if days is not None), default=None)
        if wait is None or elapsed + wait > last:
            return
        elapsed += wait
        at_mark = by_hours is not None and by_hours == wait and due.hours is not None
        hours = max(due.hours, hours) if at_mark and due.hours is not None else hours + (pace or 0) * wait
        following = next_mark(rule, due, hours, on + timedelta(days=int(elapsed)))
        if following is None:
            return
        due = following
        yield due


def _days_to(mark: Decimal | None, hours: Decimal, pace: Decimal | None) -> Decimal | None:
    """Days until a mark of hours is reached; None: never, by what is known."""
    if mark is None:
        return None
    if mark <= hours:
        return Decimal(0)
    return (mark - hours) / pace if pace else None
