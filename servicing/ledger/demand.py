"""How much of a part the coming days are likely to ask for, and what may stand in where it is short.

Each time a duty may fall due asks for its amount with its own chance, taken as independent of the others:
the total is a sum of independent Bernoulli amounts (for equal amounts the Poisson binomial law, of which
equal chances make the binomial one).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from math import gcd, sqrt
from statistics import NormalDist

import numpy as np

from servicing.ledger.outlook import MOST_REPEATS, Coming, chance_by
from servicing.ledger.rounding import CENT, half_up

SURE = 0.9
MOST_STEPS = 20_000
"""Up to so many steps between nothing and everything the law is exact, beyond it is taken as normal."""


@dataclass(frozen=True)
class Need:
    """An amount in the part's unit, to hundredths, that is asked for with a chance between 0 and 1."""

    chance: float
    amount: Decimal


@dataclass(frozen=True)
class Wanted:
    """What is expected on average, and what is enough in nine cases of ten; `exact` False: a normal law."""

    expected: Decimal = Decimal(0)
    enough: Decimal = Decimal(0)
    exact: bool = True


@dataclass(frozen=True)
class Shortage:
    """What is missing of a part, and how much of that each equivalent part can stand in for, by its id."""

    missing: Decimal
    stand_ins: Mapping[int, Decimal]

    @property
    def covered(self) -> Decimal:
        """How much of it equivalents cover."""
        return sum(self.stand_ins.values(), Decimal(0))

    @property
    def left(self) -> Decimal:
        """What is missing still."""
        return self.missing - self.covered


def chances(duty: Coming, days: float) -> list[float]:
    """Return the chances that the duty falls due a first, second, ... time within so many days.

    Each repeat follows the usual `gap` after the one before, as in `outlook`: they add up to its
    expected jobs.
    """
    found, left = [chance_by(days, duty)], days
    if not duty.gap or duty.gap <= 0:
        return found
    for _ in range(MOST_REPEATS):
        left -= duty.gap
        if left < 0:
            break
        found.append(chance_by(left, duty))
    return found


def wanted(needs: Iterable[Need], *, sure: float = SURE) -> Wanted:
    """Return the expected total and the least total that is enough with the chance `sure`.

    Exact by convolution while the total spans at most MOST_STEPS steps (a step is the greatest amount that
    divides them all); beyond, mean + z * standard deviation of the normal law, rounded up to a step.
    """
    asked = [need for need in needs if need.chance > 0 and need.amount > 0]
    if not asked:
        return Wanted()
    sizes = [int(half_up(need.amount) * 100) for need in asked]
    step = gcd(*sizes)
    steps = np.array([size // step for size in sizes])
    chance = np.array([min(need.chance, 1.0) for need in asked])
    unit = Decimal(step) / 100
    mean = float(steps @ chance)
    exact = int(steps.sum()) <= MOST_STEPS
    enough = _enough(steps, chance, sure) if exact else _normal(steps, chance, mean, sure)
    return Wanted(half_up(Decimal(str(mean)) * unit, CENT), (enough * unit).quantize(CENT), exact)


def to_buy(wanted: Decimal, stock: Decimal, reserved: Decimal, *, whole: bool) -> Decimal:
    """Return what is missing for `wanted` beside what is reserved; in whole pieces where asked for."""
    missing = max(wanted + reserved - stock, Decimal(0))
    return missing.quantize(Decimal(1), rounding=ROUND_CEILING) if whole else missing


def cover(
    *,
    missing: Mapping[int, Decimal],
    free: Mapping[int, Decimal],
    equivalents: Mapping[int, Sequence[int]],
) -> dict[int, Shortage]:
    """Let the free stock of equivalent parts stand in for what is missing, by part id.

    Parts are served in the order given and no piece stands in twice. A stock below nought is none.
    """
    left = {part: max(amount, Decimal(0)) for part, amount in free.items()}
    found = {}
    for part, amount in missing.items():
        stand_ins: dict[int, Decimal] = {}
        for other in equivalents.get(part, ()):
            given = min(left.get(other, Decimal(0)), amount - sum(stand_ins.values(), Decimal(0)))
            if given > 0:
                stand_ins[other] = given
                left[other] -= given
        found[part] = Shortage(amount, stand_ins)
    return found


def _enough(steps: np.ndarray, chance: np.ndarray, sure: float) -> int:
    """The least number of steps that the sum doesn't exceed with that chance."""
    law = np.zeros(int(steps.sum()) + 1)
    law[0] = 1.0
    for size, p in zip(steps, chance, strict=True):
        moved = law[:-size] * p
        law *= 1.0 - p
        law[size:] += moved
    return int(np.searchsorted(np.cumsum(law), sure - 1e-12))


def _normal(steps: np.ndarray, chance: np.ndarray, mean: float, sure: float) -> int:
    spread = sqrt(float(steps**2 @ (chance * (1.0 - chance))))
    return int(min(np.ceil(mean + NormalDist().inv_cdf(sure) * spread), steps.sum()))
