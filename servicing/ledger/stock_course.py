"""How the stock of a part is likely to go down: use by use, and when it is used up."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from math import ceil

import numpy as np
from numpy.typing import NDArray

from servicing.ledger.outlook import MOST_REPEATS, Coming, chances_by

HAIR = 1e-6


@dataclass(frozen=True)
class Use:
    """What a task uses, in the part's unit, each time it falls due.

    ordered: it stands on an open order, which has reserved what the first time takes.
    """

    coming: Coming
    amount: float
    ordered: bool = False


@dataclass(frozen=True)
class Step:
    """Days from today, and what is likely to be left from then on; below nought where it is short."""

    day: int
    left: float


@dataclass(frozen=True)
class StockCourse:
    """The likely course of a part's stock over the days ahead, today the first.

    free: what no open order has reserved, in the part's unit. use: what is expected to be used by the end of
    each day. at_once: how much is used at once, on average.
    """

    free: float
    use: NDArray[np.float64]
    at_once: float

    @property
    def days(self) -> int:
        """How many days ahead it is told for."""
        return len(self.use) - 1

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """The likely uses, each on the first day by which it is as likely as not.

        The median number of uses lies within one of its mean (K. Jogdeo and S. Samuels, Ann. Math. Statist.
        39, 1968, from memory), so the n-th is taken as likely once n - 1/2 are expected. Unequal amounts are
        taken as their average: an approximation of ours.
        """
        if self.at_once <= 0:
            return ()
        likely = int(self.use[-1] / self.at_once + 0.5 + HAIR)
        wanted = (np.arange(1, likely + 1) - 0.5) * self.at_once
        on = np.searchsorted(self.use, wanted - HAIR)
        return tuple(Step(int(day), self.free - (n + 1) * self.at_once) for n, day in enumerate(on))

    @property
    def used_up(self) -> int | None:
        """In how many days the last is likely used; None where some is left, 0 where nothing is free."""
        if self.free <= HAIR:
            return 0
        last = ceil(self.free / self.at_once - HAIR) if self.steps else 0
        return self.steps[last - 1].day if 0 < last <= len(self.steps) else None

    def falls_to(self, level: float) -> int | None:
        """In how many days it is likely at this level or below; None where it stays above."""
        if self.free <= level:
            return 0
        return next((step.day for step in self.steps if step.left <= level + HAIR), None)

    @property
    def left(self) -> float:
        """What is likely left at the end."""
        return self.steps[-1].left if self.steps else self.free


def course(free: float, uses: Iterable[Use], days: int) -> StockCourse:
    """Return the course of a stock over so many days, by every time each of these may fall due."""
    grid = np.arange(days + 1, dtype=np.float64)
    use, weighed = np.zeros(days + 1), 0.0
    for each in uses:
        times = _times(each, grid)
        use += each.amount * times
        weighed += each.amount**2 * float(times[-1])
    return StockCourse(free, use, weighed / float(use[-1]) if use[-1] > HAIR else 0.0)


def _times(use: Use, grid: NDArray[np.float64]) -> NDArray[np.float64]:
    """How often it is expected to fall due by each day, as `demand.chances` has it; not what is reserved."""
    found = np.zeros(len(grid))
    for number in range(MOST_REPEATS + 1):
        left = grid - number * (use.coming.gap or 0.0)
        if left[-1] < 0:
            break
        if number or not use.ordered:
            found += chances_by(left, use.coming)
        if not use.coming.gap or use.coming.gap <= 0:
            break
    return found
