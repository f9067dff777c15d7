"""A straight line through values: robust, and by least squares for comparing.

The robust one is the median of all pairwise slopes (Theil 1950), with the rank interval of Sen (1968), so
that one slip of the gauge moves little.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from math import sqrt
from statistics import NormalDist, median
from typing import NamedTuple

import numpy as np

SURE = 0.9
"""How sure a direction must be before it is told."""


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


def _pairs(counts: Iterable[int]) -> int:
    return sum(count * (count - 1) * (2 * count + 5) for count in counts)
