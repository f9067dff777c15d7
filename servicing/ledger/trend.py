"""Where a measured value is heading: its path over machine hours, and when it will reach a limit.

A value that is adjusted starts over: what was found before says nothing about the time after. The value it
was left at is the first of the new run.

The path is straight unless held-back values show that wear speeds up: see `_shape`. README.md beside this
file says how well this foretold a published fatigue test, and what was tried.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil, exp, hypot, inf, isfinite, sqrt
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from servicing.ledger.held_back import FAR_OFF, KEPT, LEAST, hours_off, values_off
from servicing.ledger.robust_line import SURE, Fit, Trend, least_squares, theil_sen
from servicing.ledger.wear_path import SHAPES, STRAIGHT, Bent, Path, Run, Shape, lay

LEVEL = 0.8
"""The level of every interval: 8 of 10, as that of the days on which a machine reaches its hours."""
HORIZON = 100_000.0
"""Hours beyond the last value up to which a crossing is named."""
ENOUGH_KIN = 4
"""Runs of kin that give an interval of LEVEL: a new error is below the largest of four that often."""
TOO_WIDE, TOO_FAR = 10.0, 4.0
"""Of no use is an interval with late hours left of so many times the early ones and the run's hours."""
RULED_OUT = 3.0
"""Standard errors from which a run's own values rule out a shape beside the one that fits them best."""
UNLIKE_KIN = 6.0
"""Standard errors from which they rule out that of its kin: they must speak plainly."""
MEDIAN_ERROR = 1.2533
"""Standard error of a median, in that of a mean: the root of pi / 2, for normal errors."""


@dataclass(frozen=True, slots=True)
class Point:
    """A value as found at so many total hours, and as left where it was adjusted; both in one unit."""

    hours: float
    found: float
    left: float | None = None


class Crossing(NamedTuple):
    """The hours at which the path reaches the upper or else the lower limit, with an interval of LEVEL.

    None of the three lies before the last value.
    """

    upper: bool
    hours: float
    early: float
    late: float

    @property
    def has_end(self) -> bool:
        """Whether the interval ends at all."""
        return isfinite(self.late)


class Halves(NamedTuple):
    """The hours that the first and the second half of a run's change took."""

    first: float
    second: float


@dataclass(frozen=True)
class Outlook:
    """What the values since the last adjustment say. Too few of them, and `trend` and `path` are None.

    trend: the straight line. moves: whether its direction is sure. vague: a crossing whose interval is too
    wide to be of use, and which stands in for `crossing`. kin: how many runs the interval was learned from;
    0 where it comes of the values alone.
    """

    run: Run
    trend: Trend | None = None
    path: Path | None = None
    moves: bool = False
    crossing: Crossing | None = None
    vague: Crossing | None = None
    kin: int = 0

    @property
    def fit(self) -> Fit | None:
        """The line by least squares, for comparing; None where there are too few values."""
        hours, values = zip(*self.run, strict=True) if self.run else ((), ())
        return least_squares(hours, values) if self.trend else None

    @property
    def halves(self) -> Halves | None:
        """How the hours of the run part where wear speeds up; None where it doesn't."""
        if self.path is None or self.path.shape == STRAIGHT:
            return None
        first, last = self.run[0][0], self.run[-1][0]
        middle = self.path.reaches((self.path.at(first) + self.path.at(last)) / 2)
        return Halves(middle - first, last - middle)


def runs(points: Iterable[Point]) -> list[Run]:
    """Return the values, given in order of hours, as (hours, value) in runs between adjustments."""
    found: list[list[tuple[float, float]]] = [[]]
    for point in points:
        found[-1].append((point.hours, point.found))
        if point.left is not None:
            found.append([(point.hours, point.left)])
    return [tuple(run) for run in found if run]


def heads_for_limit(points: Iterable[Point], *, lower: float | None, upper: float | None) -> bool:
    """Return whether the values surely move towards a limit: only then does `look` ask what kin did."""
    seen = _straight((runs(points) or [()])[-1])
    return seen.moves and (upper if _rises(seen) else lower) is not None


def look(
    points: Iterable[Point], *, lower: float | None, upper: float | None, kin: Sequence[Run] = ()
) -> Outlook:
    """Return where the values since the last adjustment are heading, with limits in their unit.

    kin: other runs of the same check, in that unit: earlier ones of this machine, any of other machines.
    """
    seen = _straight((runs(points) or [()])[-1])
    limit = upper if seen.trend and seen.trend.slope > 0 else lower
    if not seen.moves or limit is None:
        return seen
    alike = [each for each in kin if (its := _straight(each)).moves and _rises(its) == _rises(seen)]
    shape, is_kins = _shape(seen, limit, alike)
    path = lay(shape, seen.run, sure=LEVEL)
    early, late, learned = _interval(seen.run, path, limit, alike if is_kins else ())
    first, last = seen.run[0][0], seen.run[-1][0]
    middle = max(path.reaches(limit), last)
    told = replace(seen, path=path, kin=learned)
    if middle > last + HORIZON:
        return told
    found = Crossing(_rises(seen), middle, min(max(early, last), middle), max(late, middle))
    if found.late - last > max(TOO_WIDE * (found.early - last), TOO_FAR * (last - first)):
        return replace(told, vague=found)
    return replace(told, crossing=found)


@lru_cache(maxsize=KEPT)
def _straight(run: Run) -> Outlook:
    hours, values = [row[0] for row in run], [row[1] for row in run]
    if len(run) < LEAST or hours[0] == hours[-1]:
        return Outlook(run)
    moves = theil_sen(hours, values, sure=SURE).is_sure
    trend = theil_sen(hours, values, sure=LEVEL)
    return Outlook(run, trend, lay(STRAIGHT, run, sure=LEVEL), moves)


def _rises(seen: Outlook) -> bool:
    return seen.trend is not None and seen.trend.slope > 0


def _shape(seen: Outlook, limit: float, kin: Sequence[Run]) -> tuple[Shape, bool]:
    """Return the shape that foretells held-back values best, and whether it is that of the kin.

    With enough kin, that of all runs together, if it beats the straight line by more than one standard error
    (the rule of Breiman and others 1984, for the simpler of two). Where the machine's own values plainly rule
    that out, or kin are few: straight while its values allow that, else the best of the shapes they allow.
    """
    suited = _suited(seen.run, limit)
    columns = [SHAPES.index(shape) for shape in suited]
    of_kin = [off for run in kin if (off := values_off(run))]
    own = values_off(seen.run)
    errors = np.array([*of_kin, *([own] if own else [])])
    if not len(errors):
        return STRAIGHT, False
    errors = errors[:, columns]
    mean = errors.mean(axis=0).tolist()
    if len(of_kin) >= ENOUGH_KIN:
        best = int(np.argmin(mean))
        gain = errors[:, 0] - errors[:, best]
        shape = suited[best] if gain.mean() > gain.std(ddof=1) / sqrt(len(gain)) else STRAIGHT
        if shape in _allowed(seen.run, limit, UNLIKE_KIN):
            return shape, True
    allowed = _allowed(seen.run, limit, RULED_OUT)
    if STRAIGHT in allowed:
        return STRAIGHT, False
    return min(allowed, key=lambda shape: mean[suited.index(shape)]), False


@lru_cache(maxsize=8)
def _bent(run: Run) -> Bent:
    return Bent(run)


def _suited(run: Run, limit: float) -> list[Shape]:
    values = [value for _, value in run]
    return [shape for shape in SHAPES if shape.suits([*values, limit], rising=limit > values[0])]


def _allowed(run: Run, limit: float, errors: float) -> list[Shape]:
    """Return the shapes that a run's own values don't rule out, so many standard errors off the best.

    What is left of the values is no less than their rounding, evenly spread over a step of the gauge.
    """
    bent, suited, free = _bent(run), _suited(run, limit), len(run) - 3
    rounding = len(run) * _step(run) ** 2 / 12
    left = {shape: each for shape, each in zip(bent.shapes, bent.misfits, strict=True) if shape in suited}
    most = (min(left.values()) + rounding) * (1 + errors**2 / free)
    return [shape for shape, each in left.items() if each + rounding <= most]


def _interval(run: Run, path: Path, limit: float, kin: Sequence[Run]) -> tuple[float, float, int]:
    """Return the early and the late hours, and how many kin they were learned from.

    Where a run's own values rule out the shape of its kin, though not plainly, it is as wide as both.
    """
    as_kin = _as_kin(run, path, limit, kin)
    if as_kin and path.shape in _allowed(run, limit, RULED_OUT):
        return as_kin
    early, late = _by_itself(run, path, limit)
    return (min(early, as_kin[0]), max(late, as_kin[1]), as_kin[2]) if as_kin else (early, late, 0)


def _as_kin(run: Run, path: Path, limit: float, kin: Sequence[Run]) -> tuple[float, float, int] | None:
    """Return the same from how wrong kin were foretold; None where they are too few.

    Each of the kin is foretold from the place nearest to the share of its way that this run has gone. A new
    error is below the k-th smallest of n as often as k / (n + 1): split conformal (Papadopoulos 2002).
    """
    last = run[-1][0]
    begun, now = path.at(run[0][0]), path.at(last)
    share = (now - begun) / (limit - begun) if limit != begun else 1.0
    misses = [found for each in kin if (found := hours_off(each, path.shape))]
    off = sorted(abs(min(each, key=lambda miss: abs(miss.share - share)).off) for each in misses)
    rank = ceil(LEVEL * (len(off) + 1))
    if rank > len(off):
        return None
    left, most = max(path.reaches(limit) - last, 0.0), off[rank - 1]
    return last + left * exp(-most), last + left * exp(most) if most < FAR_OFF else inf, len(off)


def _by_itself(run: Run, path: Path, limit: float) -> tuple[float, float]:
    """Return the early and the late hours from a run's own values.

    What isn't known of the path's slope, of its level (with half a step of the gauge) and of its shape is
    taken for independent: the other shapes are those that the values don't rule out.
    """
    steep, flat = sorted((path.line.low, path.line.high), key=abs, reverse=True)
    spread = sqrt(sum((path.at(hours) - value) ** 2 for hours, value in run) / (len(run) - 2) / len(run))
    level = hypot(NormalDist().inv_cdf((1 + LEVEL) / 2) * MEDIAN_ERROR * spread, _step(run) / 2)
    towards = level if path.line.slope > 0 else -level
    others = [lay(shape, run, sure=LEVEL).reaches(limit) for shape in _allowed(run, limit, RULED_OUT)]
    middle = path.reaches(limit)
    early = (path.reaches(limit, steep), path.reaches(limit - towards), min(others, default=middle))
    late = (path.reaches(limit, flat), path.reaches(limit + towards), max(others, default=middle))
    return (
        middle - hypot(*(max(middle - each, 0.0) for each in early)),
        middle + hypot(*(max(each - middle, 0.0) for each in late)) if steep * flat > 0 else inf,
    )


def _step(run: Run) -> float:
    """The step of the gauge: the power of ten that all values are whole multiples of, 0 where none is."""
    values = [value for _, value in run]
    return next((10.0**-n for n in range(7) if all(abs(round(v, n) - v) < 1e-9 for v in values)), 0.0)
