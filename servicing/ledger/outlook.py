"""What the coming days are likely to bring: expected jobs, minutes and supplies."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from servicing.ledger.rounding import TENTH, half_up

FAR = 1096.0  # days; a day that isn't given lies beyond three years
MOST_REPEATS = 800  # a year of work every eleven hours, day and night
DAYS_A_MONTH = 365.25 / 12


@dataclass(frozen=True)
class Coming:
    """A duty's due day as days from today: the 10, 50 and 90 % quantiles (None: beyond three years).

    `gap` is the usual number of days from one due day to the next, None when it isn't repeated or not known.
    `minutes` 0: never entered. `unpriced`: how many supplies have no price, and so no part in `supplies`.
    """

    early: float | None
    likely: float | None
    late: float | None
    gap: float | None = None
    overdue: bool = False
    minutes: int = 0
    supplies: Decimal = Decimal(0)
    unpriced: int = 0


@dataclass(frozen=True)
class Outlook:
    """Expected over the days ahead: jobs to a tenth, hands-on minutes whole, supplies in whole money.

    `untimed`: tasks among them whose minutes were never entered, `unpriced`: their supplies without a price.
    The minutes and the money lack these.
    """

    jobs: Decimal = Decimal("0.0")
    minutes: int = 0
    supplies: Decimal = Decimal(0)
    overdue: int = 0
    untimed: int = 0
    unpriced: int = 0


def chance_by(day: float, duty: Coming) -> float:
    """Return the chance (0..1) that the duty falls due within `day` days.

    The three quantiles are joined by straight lines; the outer tenths are spread over as many days as lie
    between the median and the quantile beside them, and nothing lies before today. An approximation of ours.
    """
    if duty.overdue:
        return 1.0 if day >= 0 else 0.0
    knots = _knots(duty)
    if day >= knots[-1][0] and knots[-2][0] < FAR:
        return 1.0
    reached = 0.0
    for (x0, p0), (x1, p1) in pairwise(knots):
        if day >= x1:
            reached = p1
        elif day > x0:
            return p0 + (p1 - p0) * (day - x0) / (x1 - x0)
    return reached


def chances_by(days: NDArray[np.float64], duty: Coming) -> NDArray[np.float64]:
    """Return `chance_by` of each of these days at once."""
    if duty.overdue:
        return np.where(days >= 0, 1.0, 0.0)
    x, chance = zip(*_knots(duty), strict=True)
    return np.where(days >= 0, np.interp(days, x, chance, left=0.0), 0.0)


def _knots(duty: Coming) -> list[tuple[float, float]]:
    """Days and the chance that it falls due by them, from none to certain."""
    early, likely, late = (FAR if q is None else max(q, 0.0) for q in (duty.early, duty.likely, duty.late))
    return [
        (max(0.0, 2 * early - likely), 0.0),
        (early, 0.1),
        (likely, 0.5),
        (late, 0.9),
        (2 * late - likely, 1.0),
    ]


def expected_jobs(duty: Coming, days: float) -> float:
    """Return how many times the duty is expected to fall due within `days` days.

    The first time has its chance; each repeat follows `gap` days after the one before.
    """
    expected, left = chance_by(days, duty), days
    if not duty.gap or duty.gap <= 0:
        return expected
    for _ in range(MOST_REPEATS):
        left -= duty.gap
        if left < 0:
            break
        expected += chance_by(left, duty)
    return expected


def gap_days(every_hours: Decimal | None, every_months: int | None, pace: Decimal | None) -> float | None:
    """Return the usual days between two due days of a task, at `pace` hours a day; None when not known."""
    gaps = [every_months * DAYS_A_MONTH] if every_months else []
    if every_hours and pace and pace > 0:
        gaps.append(float(every_hours / pace))
    return min(gaps, default=None)


def outlook(duties: Iterable[Coming], days: float) -> Outlook:
    """Add up the duties of one machine over the next `days` days."""
    jobs = minutes = money = Decimal(0)
    overdue = untimed = unpriced = 0
    for duty in duties:
        times = Decimal(str(round(expected_jobs(duty, days), 6)))
        jobs += times
        minutes += times * duty.minutes
        money += times * duty.supplies
        overdue += duty.overdue
        if times:
            untimed += not duty.minutes
            unpriced += duty.unpriced
    return Outlook(
        jobs=half_up(jobs, TENTH),
        minutes=int(half_up(minutes, Decimal(1))),
        supplies=half_up(money, Decimal(1)),
        overdue=overdue,
        untimed=untimed,
        unpriced=unpriced,
    )


def add(parts: Iterable[Outlook]) -> Outlook:
    """Return the sum over machines, of figures already rounded."""
    together = list(parts)
    return Outlook(
        jobs=sum((o.jobs for o in together), Decimal("0.0")),
        minutes=sum(o.minutes for o in together),
        supplies=sum((o.supplies for o in together), Decimal(0)),
        overdue=sum(o.overdue for o in together),
        untimed=sum(o.untimed for o in together),
        unpriced=sum(o.unpriced for o in together),
    )
