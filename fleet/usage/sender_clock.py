"""How far a sender's clock is off, told from when its readings say they were taken and when they came in."""

import statistics
from collections.abc import Sequence

from fleet.usage.plausibility import CLOCK_SKEW

SENDS = 5  # how many in a row must agree before a clock is called behind
AGREE = 10 / 1440  # days within which they must agree
BEHIND = 30 / 1440  # days; less than that is a slow line
BY_CHANCE = 20 / 1440  # days; sends closer together than that in their hours go by a timetable


def ahead(early: Sequence[float]) -> float | None:
    """Return how many days a clock runs ahead, at least; None when it isn't known to.

    early: for some readings, days by which the time they give lies after their arrival (negative: before). No
    reading arrives before it is taken, so the largest is the least that the clock can be ahead.
    """
    most = max(early, default=0.0)
    return most if most > CLOCK_SKEW else None


def behind(late: Sequence[float], arrived: Sequence[float]) -> float | None:
    """Return how many days a clock steadily runs behind; None where the delay has another look.

    late: days between the time given and the arrival, for the freshest reading of each send, latest last.
    arrived: days since some midnight at which it came in. A line that fails makes delays of every length; a
    clock that is wrong makes the same one each time. So does whoever sends by a timetable, such as each night
    what was read at six, or a whole history at once: these sends arrive at much the same minute of an hour.
    """
    last = list(late)[-SENDS:]
    if len(last) < SENDS or min(last) < BEHIND or max(last) - min(last) > AGREE:
        return None
    if _spread_in_the_hour(list(arrived)[-SENDS:]) < BY_CHANCE:
        return None
    return statistics.median(last)


def _spread_in_the_hour(moments: Sequence[float]) -> float:
    """Return the length in days of the shortest piece of the hour's dial that holds all the moments."""
    hour = 1 / 24
    dial = sorted(moment % hour for moment in moments)
    gaps = [after - before for before, after in zip(dial, [*dial[1:], dial[0] + hour], strict=True)]
    return hour - max(gaps)
