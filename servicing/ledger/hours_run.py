"""How far a machine ran between two moments, from the readings on either side of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from servicing.ledger.rounding import TENTH, half_up

LEAST_DAYS = 14
WEEK = timedelta(days=7)


@dataclass(frozen=True, order=True)
class Point:
    """Total hours at a moment."""

    at: datetime
    hours: Decimal


@dataclass(frozen=True)
class Run:
    """Total hours at the start and at the end of a period, unrounded; both are what the readings support."""

    start: Decimal
    end: Decimal

    @property
    def hours(self) -> Decimal:
        """Hours run, to a tenth; never negative."""
        return max(half_up(self.end - self.start, TENTH), Decimal("0.0"))


def hours_at(points: Sequence[Point], at: datetime) -> Decimal | None:
    """Return total hours at `at`: between two readings the hours are taken as run evenly over the time.

    `points` in order of time. Before the first reading: None. After the last: what the last one said,
    since hours nobody has read aren't counted.
    """
    before = after = None
    for point in points:
        if point.at <= at:
            before = point
        else:
            after = point
            break
    if before is None or after is None:
        return before.hours if before else None
    elapsed = Decimal((at - before.at).total_seconds()) / Decimal((after.at - before.at).total_seconds())
    return before.hours + (after.hours - before.hours) * elapsed


def run(points: Sequence[Point], start: datetime, end: datetime) -> Run | None:
    """Return what was run from `start` to `end`; None where no reading was taken before `end`.

    A machine whose first reading falls inside the period is counted from that reading on. It is enough to
    give the nearest readings on either side of `start` and of `end`.
    """
    ordered = sorted(set(points))
    finish = hours_at(ordered, end)
    if finish is None:
        return None
    begin = hours_at(ordered, start)
    return Run(ordered[0].hours if begin is None else begin, finish)


def pace(points: Sequence[Point], since: datetime, until: datetime) -> Decimal | None:
    """Return hours a day from `since` to `until`; None where the readings cover less than two weeks of it."""
    ordered = sorted(set(points))
    ran = run(ordered, since, until)
    if ran is None:
        return None
    days = Decimal((until - max(since, ordered[0].at)).total_seconds()) / 86400
    return (ran.end - ran.start) / days if days >= LEAST_DAYS else None


def by_week(points: Sequence[Point], until: datetime, weeks: int) -> list[Decimal | None]:
    """Return the hours run in each of the last weeks of seven days up to `until`, the earliest first.

    None for a week of which the readings cover less than half: it ends before the first, or begins after the
    last. What is covered counts as in `run`.
    """
    ordered = sorted(set(points))
    if not ordered:
        return [None] * weeks
    found: list[Decimal | None] = []
    for back in range(weeks, 0, -1):
        start = max(until - back * WEEK, ordered[0].at)
        end = min(until - (back - 1) * WEEK, ordered[-1].at)
        ran = run(ordered, start, end) if end - start >= WEEK / 2 else None
        found.append(ran.hours if ran else None)
    return found
