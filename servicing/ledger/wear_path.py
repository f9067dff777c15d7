"""Paths of wear: the shapes that a value may take over machine hours.

Each shape makes a path straight by bending the hours or the value; then the robust line of `robust_line` is
laid through it. So a straight path is what it always was, and every path is monotone.

`power`: the change since the run began grows as (hours since then) ** by.
`growth`: the rate grows as value ** by, the form of the law of crack growth da/dN = C (dK)**m (Paris and
Erdogan 1963); by 1 is the exponential path, whose logarithm is straight. For rising values above 0.
Only what speeds up is let in: where wear slows down, the straight line is early, which does no harm.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import inf
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from servicing.ledger.robust_line import Trend, theil_sen

Run: TypeAlias = tuple[tuple[float, float], ...]
"""(hours, value) from one adjustment to the next, in the order of hours."""
Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Shape:
    """How a path bends; see above."""

    kind: Literal["straight", "power", "growth"]
    by: float = 1.0

    def suits(self, values: Sequence[float], *, rising: bool = True) -> bool:
        """Return whether such values can follow it."""
        return self.kind != "growth" or (rising and min(values) > 0)

    def bent_hours(self, hours: Floats) -> Floats:
        """Return hours since the run began, none below 0, so that such a path is straight over them."""
        return hours**self.by if self.kind == "power" else hours

    def unbent_hours(self, bent: float) -> float:
        """Undo `bent_hours`; 0 for what lies before the run."""
        return max(bent, 0.0) ** (1 / self.by) if self.kind == "power" else bent

    def bent_values(self, values: Floats) -> Floats:
        """Return values so that a path of this shape is straight in them (Box and Cox 1964, with 1 - by)."""
        if self.kind != "growth":
            return values
        return np.log(values) if self.by == 1 else (1 - values ** (1 - self.by)) / (self.by - 1)

    def unbent_values(self, bent: Floats) -> Floats:
        """Undo `bent_values`; infinite where the path has run off before."""
        if self.kind != "growth":
            return bent
        if self.by == 1:
            return np.exp(np.minimum(bent, 700.0))
        left = 1 - (self.by - 1) * bent
        return np.where(left > 0, np.maximum(left, 1e-100) ** (1 / (1 - self.by)), inf)


STRAIGHT = Shape("straight")
SHAPES = (
    STRAIGHT,
    *(Shape("power", by) for by in (1.25, 1.5, 2.0, 2.5, 3.0)),
    *(Shape("growth", by) for by in (1.0, 1.5, 2.0, 2.5, 3.0)),
)


@dataclass(frozen=True, slots=True)
class Path:
    """A shape laid through a run: `line` is straight in bent hours since `start` and bent values / scale."""

    shape: Shape
    line: Trend
    start: float
    scale: float

    def at(self, hours: float) -> float:
        """Return the value on the path at so many hours, of the run or later; inf where it has run off."""
        bent = self.shape.bent_hours(np.array([hours - self.start]))
        on_line = self.line.value + self.line.slope * (bent - self.line.hours)
        return float(self.shape.unbent_values(on_line)[0]) * self.scale

    def reaches(self, value: float, slope: float | None = None) -> float:
        """Return the hours at which it, or one of another slope of its line, reaches a value; inf: never."""
        slope = self.line.slope if slope is None else slope
        if slope == 0 or (self.shape.kind == "growth" and value <= 0):
            return inf
        bent = float(self.shape.bent_values(np.array([value / self.scale]))[0])
        return self.start + self.shape.unbent_hours(self.line.hours + (bent - self.line.value) / slope)


class Bent:
    """A run bent by every shape that suits its values, to lay all of their lines at once.

    run: two values or more, not all at one time. shapes: those that suit.
    """

    def __init__(self, run: Run) -> None:
        self.hours, self.values = np.array(run, float).T
        self.shapes = [shape for shape in SHAPES if shape.suits(self.values.tolist())]
        self._since = self.hours - self.hours[0]
        self._scale = float(np.median(np.abs(self.values))) or 1.0
        self._x = np.array([shape.bent_hours(self._since) for shape in self.shapes])
        self._z = np.array([shape.bent_values(self.values / self._scale) for shape in self.shapes])

    def foretold(self, known: int) -> Floats:
        """Return the values at all hours, a row for each of `shapes`, by the first `known` values."""
        slope, x, z = self._lines(known)
        on_line = z[:, None] + slope[:, None] * (self._x - x[:, None])
        rows = [shape.unbent_values(row) for shape, row in zip(self.shapes, on_line, strict=True)]
        return np.array(rows) * self._scale

    def path(self, shape: Shape, known: int) -> Path:
        """Return the path of one of `shapes` through the first `known` values, without an interval."""
        slope, x, z = (float(column[self.shapes.index(shape)]) for column in self._lines(known))
        return Path(shape, Trend(slope, slope, slope, x, z), float(self.hours[0]), self._scale)

    @cached_property
    def misfits(self) -> Floats:
        """The sum of squares that the path of each of `shapes` leaves of the values."""
        left = np.minimum(np.abs(self.foretold(len(self.hours)) - self.values), 1e150)
        squares: Floats = np.sum(left**2, axis=1)
        return squares

    def _lines(self, known: int) -> tuple[Floats, Floats, Floats]:
        """Median slopes between all pairs, and the medians of bent hours and values, by shape."""
        x, z = self._x[:, :known], self._z[:, :known]
        first, second = np.triu_indices(known, 1)
        apart = self.hours[second] > self.hours[first]
        first, second = first[apart], second[apart]
        slopes = (z[:, second] - z[:, first]) / (x[:, second] - x[:, first])
        return np.median(slopes, axis=1), np.median(x, axis=1), np.median(z, axis=1)


def lay(shape: Shape, run: Run, *, sure: float) -> Path:
    """Lay a path of a shape that suits through a run, its slope with an interval of level `sure`."""
    hours, values = np.array(run, float).T
    scale = float(np.median(np.abs(values))) or 1.0
    line = theil_sen(shape.bent_hours(hours - hours[0]), shape.bent_values(values / scale), sure=sure)
    return Path(shape, line, float(hours[0]), scale)


def least_misfit(bent: Bent) -> Path:
    """Return the path through a whole run that fits it best."""
    return bent.path(bent.shapes[int(bent.misfits.argmin())], len(bent.hours))
