"""Where a measured value is heading: its trend over machine hours, and when it will reach a limit.

The trend is robust: the median of all pairwise slopes (Theil 1950), with the rank interval of Sen (1968), so
that one slip of the gauge moves little. Ordinary least squares is given beside it, for comparing.

A value that is adjusted starts over: what was found before says nothing about the time after. The value it
was left at is the first of the new run.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist, median
from typing import NamedTuple

import numpy as np

LEAST = 4
"""Values a run needs before anything is said of its trend."""
SURE = 0.9
"""The level of the interval of a slope, and of a crossing."""
HORIZON = 100_000.0
"""Hours beyond the last value up to which a crossing is named."""


@dataclass(frozen=True, slots=True)
class Point:
    """A value as found at so many total hours, and as left where it was adjusted; both in one unit."""

    hours: float
    found: float
    left: float | None = None


class Fit(NamedTuple):
    """A straight line by least squares, with standard errors: slopes in unit per hour, intercepts in unit."""

    slope: float
    intercept: float
    slope_error: float
    intercept_error: float


class Trend(NamedTuple):
    """A robust slope (unit per hour) with its interval; the line runs through (`hours`, `value`)."""

    slope: float
    low: float
    high: float
    hours: float
    value: float

    @property
    def is_sure(self) -> bool:
        """Whether the interval leaves no doubt about the direction."""
        return self.low > 0 or self.high < 0

    def at(self, hours: float) -> float:
        """Return the value on the line at so many hours."""
        return self.value + self.slope * (hours - self.hours)


class Crossing(NamedTuple):
    """The hours at which the line reaches the upper or else the lower limit, with an interval.

    None of the three lies before the last value.
    """

    upper: bool
    hours: float
    early: float
    late: float


@dataclass(frozen=True)
class Outlook:
    """What the values since the last adjustment say. Too few of them, and `trend` is None."""

    run: tuple[tuple[float, float], ...]
    trend: Trend | None = None
    crossing: Crossing | None = None

    @property
    def fit(self) -> Fit | None:
        """The line by least squares, for comparing; None where there are too few values."""
        hours, values = zip(*self.run, strict=True) if self.run else ((), ())
        return least_squares(hours, values) if self.trend else None


def runs(points: Iterable[Point]) -> list[list[tuple[float, float]]]:
    """Return the values, given in order of hours, as (hours, value) in runs between adjustments."""
    found: list[list[tuple[float, float]]] = [[]]
    for point in points:
        found[-1].append((point.hours, point.found))
        if point.left is not None:
            found.append([(point.hours, point.left)])
    return [run for run in found if run]


def look(points: Iterable[Point], *, lower: float | None, upper: float | None) -> Outlook:
    """Return where the values since the last adjustment are heading, with limits in their unit."""
    run = tuple((runs(points) or [[]])[-1])
    hours, values = [row[0] for row in run], [row[1] for row in run]
    if len(run) < LEAST or hours[0] == hours[-1]:
        return Outlook(run)
    trend = theil_sen(hours, values)
    return Outlook(run, trend, crossing(trend, lower=lower, upper=upper, last=hours[-1]))


def least_squares(x: Sequence[float] | np.ndarray, y: Sequence[float] | np.ndarray) -> Fit:
    """Fit y = intercept + slope * x by least squares; needs three values or more, not all at one x.

    Standard errors from the residuals with n - 2 degrees of freedom, as in NIST's reference data sets (StRD).
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    middle = x.mean()
    away = x - middle
    spread = float(away @ away)
    slope = float(away @ (y - y.mean())) / spread
    intercept = float(y.mean() - slope * middle)
    residuals = y - y.mean() - slope * away
    variance = float(residuals @ residuals) / (len(x) - 2)
    return Fit(slope, intercept, sqrt(variance / spread), sqrt(variance * (1 / len(x) + middle**2 / spread)))


def theil_sen(
    x: Sequence[float] | np.ndarray, y: Sequence[float] | np.ndarray, *, sure: float = SURE
) -> Trend:
    """Return the median of the slopes between all pairs of values, with Sen's interval of level `sure`.

    Ties in x and y lessen the variance of Kendall's statistic as in Sen (1968), equation 2.6; where they
    leave none, the interval is all of the slopes. The line runs through the medians.
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    first, second = np.triu_indices(len(x), 1)
    run, rise = x[second] - x[first], y[second] - y[first]
    slopes = np.sort(rise[run != 0] / run[run != 0])
    weight = _pairs([len(x)]) - _pairs(Counter(x.tolist()).values()) - _pairs(Counter(y.tolist()).values())
    variance = weight / 18  # whole until here, so that what cancels leaves nothing
    reach = NormalDist().inv_cdf((1 + sure) / 2) * sqrt(variance) if variance > 0 else len(slopes)
    low = max(round((len(slopes) - reach) / 2) - 1, 0)
    high = min(round((len(slopes) + reach) / 2), len(slopes) - 1)
    return Trend(
        slope=median(slopes.tolist()),
        low=float(slopes[low]),
        high=float(slopes[high]),
        hours=median(x.tolist()),
        value=median(y.tolist()),
    )


def crossing(trend: Trend, *, lower: float | None, upper: float | None, last: float) -> Crossing | None:
    """Return when the trend reaches the limit it is heading for; None where it heads for none for sure.

    last: hours of the last value. The interval is that of the slope, carried on through the medians.
    """
    limit = upper if trend.slope > 0 else lower
    if limit is None or not trend.is_sure:
        return None
    middle, one, other = (
        max(trend.hours + (limit - trend.value) / slope, last)
        for slope in (trend.slope, trend.low, trend.high)
    )
    if middle > last + HORIZON:
        return None
    return Crossing(trend.slope > 0, middle, min(one, other), max(one, other))


def _pairs(counts: Iterable[int]) -> int:
    return sum(count * (count - 1) * (2 * count + 5) for count in counts)
