"""When a machine reaches a mark: the distribution of the day on which its hours cross it."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaincc, log_ndtr, ndtr, ndtri

from fleet.usage.scheduled_days import ScheduledHours, laid_out, passing_through

from .pace import Pace, fade_over

EARLY, LIKELY, LATE = 0.1, 0.5, 0.9
HORIZON = 3 * 365.25  # days; what lies beyond is "not within 3 years"
CLOCK = 24.0  # hours a machine can run in a day
FAR = 1e6  # hours, more than a machine lives


class Crossing(NamedTuple):
    """Days from today until the crossing: 10, 50 and 90 % quantiles, arrays; inf: not within 3 years."""

    early: np.ndarray
    likely: np.ndarray
    late: np.ndarray


def first_passage(
    pace: Pace,
    *,
    machine: ArrayLike,
    remaining: ArrayLike,
    since: ArrayLike = 0.0,
    known: ScheduledHours | None = None,
) -> Crossing:
    """Days from today on which ``remaining`` further hours will have been run.

    machine: int array [k] into the pace; remaining: hours still to go from the last known hours, [k];
    since: days from the last reading to today, a number or [k]. A mark already passed gives 0;
    a mark that may well have been passed since the last reading gives 0 for that quantile.
    known: periods with known hours, such as a booked hire or a stay in the shop.
    """
    machine, hours = np.asarray(machine, np.int64), _hours(remaining)
    ago = np.broadcast_to(np.nan_to_num(since), hours.shape)
    law = _law(pace, machine, hours)
    free = [_days(law, p, hours) for p in (EARLY, LIKELY, LATE)]
    if known is not None and len(known.machine):
        tables = laid_out(known, len(pace))
        touched = np.flatnonzero(np.isfinite(tables[0][machine]).any(axis=1))
        rows = {"remaining": hours[touched], "since": ago[touched]}
        rows |= {
            name: t[machine[touched]] for name, t in zip(("starts", "ends", "rates"), tables, strict=True)
        }
        for days, p in zip(free, (EARLY, LIKELY, LATE), strict=True):

            def guess(which: np.ndarray, left: np.ndarray, p: float = p) -> np.ndarray:
                return _days(_law(pace, machine[touched][which], left), p, left)

            days[touched] = passing_through(guess, **rows)
        free = list(np.maximum.accumulate(free))  # bisection leaves a hair between them
    return Crossing(*(_from_today(days, hours, ago) for days in free))


def quantile(
    pace: Pace, p: ArrayLike, *, machine: ArrayLike, remaining: ArrayLike, since: ArrayLike = 0.0
) -> np.ndarray:
    """Days from today by which the mark is reached with probability ``p``; inf beyond 3 years."""
    hours = _hours(remaining)
    return _from_today(_days(_law(pace, machine, hours), p, hours), hours, since)


def probability_before(
    pace: Pace, *, machine: ArrayLike, remaining: ArrayLike, days: ArrayLike, since: ArrayLike = 0.0
) -> np.ndarray:
    """Probability that ``remaining`` hours will have been run within ``days`` days from today."""
    ahead, hours = np.asarray(days, float), _hours(remaining)
    middle, doubt, chance = _law(pace, machine, hours)
    gone = np.maximum(ahead + np.nan_to_num(since), 1e-9)
    root = np.sqrt(np.minimum(gone, FAR) / middle)
    given = ndtr((root - 1.0) / np.sqrt(doubt * root**2 + chance))
    given = np.where((ahead < 0) | (gone * CLOCK < hours), 0.0, given)
    return np.where(hours > 0, given, 1.0)


def earlier_of(crossing: Crossing, calendar_days: ArrayLike) -> Crossing:
    """The earlier of the hour crossing and a calendar date ``calendar_days`` from today (inf: none)."""
    limit = np.maximum(np.asarray(calendar_days, float), 0.0)
    limit = np.where(np.isnan(limit), np.inf, limit)
    return Crossing(*(np.minimum(q, limit) for q in crossing))


def _days(law: tuple[np.ndarray, np.ndarray, np.ndarray], p: ArrayLike, hours: np.ndarray) -> np.ndarray:
    """Days from the last reading until ``hours`` are run with probability ``p``; the clock sets the least."""
    middle, doubt, chance = law
    z = ndtri(p)
    open_ = 1.0 - z**2 * doubt  # below zero: that unlucky, it never gets there
    wide = z * np.sqrt(np.maximum(open_ * chance + doubt, 0.0))
    with np.errstate(divide="ignore"):
        late = np.where(open_ > 0, (1.0 + wide) / np.maximum(open_, 1e-12), np.inf)
    early = np.maximum(1.0 - z**2 * chance, 0.0) / (1.0 - np.minimum(wide, 0.0))
    days = np.maximum(middle * np.where(z > 0, late, early) ** 2, hours / CLOCK)
    return np.where(hours > 0, days, 0.0)


def _from_today(days: np.ndarray, hours: np.ndarray, since: ArrayLike) -> np.ndarray:
    days = np.where(hours > 0, np.maximum(days - np.nan_to_num(since), 0.0), 0.0)
    return np.where(days <= HORIZON, days, np.inf)


def _hours(remaining: ArrayLike) -> np.ndarray:
    """Hours to go as finite floats: an unknown (NaN) or endless mark lies far beyond any horizon."""
    return np.asarray(np.nan_to_num(np.asarray(remaining, float), nan=FAR, posinf=FAR, neginf=0.0))


def _law(pace: Pace, machine: ArrayLike, hours: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The law of the crossing: median m (days from the last reading), doubt and chance, both variances.

    On the root scale both the doubt in the rate and the chance of the days are normal, so that with
    u = sqrt(t/m), P(T <= t) = Phi((u - 1) / sqrt(doubt u^2 + chance)): a quadratic in u, solved in _days.
    chance = c / 4a for lumps of c hours and a hours to go (the variance-stabilised count of lumps, Anscombe
    1948); doubt is the relative variance of the root of the rate. Since both change no faster with m than m
    itself, every quantile grows with the hours to go. A rate that may well be zero has no late day.
    """
    machine = np.asarray(machine)
    habits, level, kept = pace.habits, pace.settled[machine], pace.swing_kept[machine]
    settled = level**2
    now = (level + pace.swing[machine]) ** 2
    middle = _days_to(np.clip(hours, 1e-6, FAR), settled, now, habits.swing_days)
    fade = fade_over(middle / habits.swing_days)
    variance = pace.settled_variance[machine] * (1 - kept * fade) ** 2
    variance += habits.swing_unseen * habits.swing**2 * (1 - kept * fade**2)
    rate = pace.mean[machine]
    return middle, variance / rate, pace.lump[machine] / (4.0 * middle * rate)


def _days_to(hours: np.ndarray, settled: np.ndarray, now: np.ndarray, swing_days: float) -> np.ndarray:
    """Days until ``hours`` are run while the rate fades from ``now`` to ``settled`` over ``swing_days``.

    Newton from hours / now, a start from which the steps can't overshoot (the curve bends one way only).
    """
    days = hours / now
    extra = (now - settled) * swing_days
    for _ in range(8):
        left = np.exp(-days / swing_days)
        days = days - (settled * days + extra * (1.0 - left) - hours) / (settled + (now - settled) * left)
    return np.asarray(days)


def gamma_process_cdf(t: ArrayLike, rate: float, lump: float, hours: ArrayLike) -> np.ndarray:
    """P(T <= t) that a gamma process (mean rate * t, variance lump * rate * t) has run ``hours``.

    van Noortwijk (2009), "A survey of the application of gamma processes in maintenance". Kept beside
    the closed form above to show how little the family of the process matters.
    """
    shape = np.maximum(np.asarray(t, float) * rate / lump, 1e-12)
    return np.asarray(gammaincc(shape, np.asarray(hours, float) / lump))


def inverse_gaussian_cdf(t: ArrayLike, mean: ArrayLike, shape: ArrayLike) -> np.ndarray:
    """P(T <= t) of the inverse Gaussian law with ``mean`` and ``shape``: first passage of a Wiener process.

    Chhikara and Folks (1989); the second term is summed in logs, since exp(2 shape / mean) overflows.
    """
    t, mean, shape = np.broadcast_arrays(*(np.asarray(x, float) for x in (t, mean, shape)))
    positive = t > 0
    safe = np.where(positive, t, 1.0)
    root = np.sqrt(shape / safe)
    first = ndtr(root * (safe / mean - 1.0))
    second = np.exp(2.0 * shape / mean + log_ndtr(-root * (safe / mean + 1.0)))
    return np.where(positive, np.clip(first + second, 0.0, 1.0), 0.0)


def inverse_gaussian_quantile(p: ArrayLike, mean: ArrayLike, shape: ArrayLike) -> np.ndarray:
    """The ``t`` with inverse_gaussian_cdf(t, mean, shape) = p, by bisection in log t."""
    p, mean, shape = np.broadcast_arrays(*(np.asarray(x, float) for x in (p, mean, shape)))
    low = np.log(mean) - 40.0 - np.zeros(p.shape)
    high = np.log(mean) + 10.0 + np.zeros(p.shape)
    for _ in range(70):
        middle = 0.5 * (low + high)
        below = inverse_gaussian_cdf(np.exp(middle), mean, shape) < p
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.where(p <= 0, 0.0, np.where(p >= 1, np.inf, np.exp(0.5 * (low + high))))
