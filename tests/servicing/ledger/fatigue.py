"""Crack lengths of 21 specimens of one alloy in a fatigue test, in inches, at 0, 10,000 ... 120,000 cycles.

FROM MEMORY, of Lu and Meeker, Technometrics 35 (1993), Table 1, after Hudak and others (1978); `Fatigue` of
R's nlme is the same table. Not compared with either here: no copy was at hand. `test_fatigue.py` checks what
is known of it (262 values, 21 specimens from 0.90 in, none ever shrinks, 12 reach 1.60 in, 9 do not).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil

from servicing.ledger.held_back import LEAST
from servicing.ledger.robust_line import theil_sen
from servicing.ledger.trend import Crossing, Point, look
from servicing.ledger.wear_path import Run

CRITICAL = 1.60
"""Inches at which a specimen counts as failed; a test ended there, or at 0.12 million cycles."""

_INCHES = """
.90 .95 1.00 1.05 1.12 1.19 1.27 1.35 1.48 1.64
.90 .94 .98 1.03 1.08 1.14 1.21 1.28 1.37 1.47 1.60
.90 .94 .98 1.03 1.08 1.13 1.19 1.26 1.35 1.46 1.58 1.77
.90 .94 .98 1.03 1.07 1.12 1.19 1.25 1.34 1.43 1.55 1.73
.90 .94 .98 1.03 1.07 1.12 1.19 1.24 1.34 1.43 1.55 1.71
.90 .94 .98 1.03 1.07 1.12 1.18 1.23 1.33 1.41 1.51 1.68
.90 .94 .98 1.02 1.07 1.11 1.17 1.23 1.32 1.41 1.52 1.66
.90 .93 .97 1.00 1.06 1.11 1.17 1.23 1.30 1.39 1.49 1.62
.90 .92 .97 1.01 1.05 1.09 1.15 1.21 1.28 1.36 1.44 1.55 1.72
.90 .92 .96 1.00 1.04 1.08 1.13 1.19 1.26 1.34 1.42 1.52 1.67
.90 .93 .96 1.00 1.04 1.08 1.13 1.18 1.24 1.31 1.39 1.49 1.65
.90 .93 .97 1.00 1.03 1.07 1.10 1.16 1.22 1.29 1.37 1.48 1.64
.90 .92 .97 .99 1.03 1.06 1.10 1.14 1.20 1.26 1.31 1.40 1.52
.90 .93 .96 1.00 1.03 1.07 1.12 1.16 1.20 1.26 1.30 1.37 1.45
.90 .92 .96 .99 1.03 1.06 1.10 1.16 1.21 1.27 1.33 1.40 1.49
.90 .92 .95 .97 1.00 1.03 1.07 1.11 1.16 1.22 1.26 1.33 1.40
.90 .93 .96 .97 1.00 1.05 1.08 1.11 1.16 1.20 1.24 1.32 1.38
.90 .92 .94 .97 1.01 1.04 1.07 1.09 1.14 1.19 1.23 1.28 1.35
.90 .92 .94 .97 .99 1.02 1.05 1.08 1.12 1.16 1.20 1.25 1.31
.90 .92 .94 .97 .99 1.02 1.05 1.08 1.12 1.16 1.19 1.24 1.29
.90 .92 .94 .97 .99 1.02 1.04 1.07 1.11 1.14 1.18 1.22 1.27
"""

PATHS = [[float(inches) for inches in line.split()] for line in _INCHES.split("\n") if line]

SHARES = (1 / 3, 1 / 2, 2 / 3)
"""Of a specimen's values, rounded up, those that a forecast is made from."""
STEP_HOURS = 1000.0
"""Hours that stand for a step: a unit has to be chosen, and no share below depends on it."""


@dataclass(frozen=True)
class Forecast:
    """What was said of a specimen from its first values: in hours, STEP_HOURS for each step of the table."""

    specimen: int
    known: int
    crosses: float | None
    told: Crossing

    @property
    def origin(self) -> float:
        """Where the last known value stands."""
        return run(self.specimen)[self.known - 1][0]

    @property
    def error(self) -> float:
        """Foretold less true, as a share of what was left."""
        assert self.crosses is not None
        return (self.told.hours - self.crosses) / (self.crosses - self.origin)

    @property
    def is_inside(self) -> bool:
        """Whether the interval holds the true crossing."""
        assert self.crosses is not None
        return self.told.early <= self.crosses <= self.told.late

    @property
    def width(self) -> float:
        """Of the interval, as a share of what was left."""
        assert self.crosses is not None
        return (self.told.late - self.told.early) / (self.crosses - self.origin)


def run(specimen: int) -> Run:
    """The specimen's values by hours."""
    return tuple((n * STEP_HOURS, inches) for n, inches in enumerate(PATHS[specimen]))


def crosses(specimen: int) -> float | None:
    """Where it reaches CRITICAL, straight from the value before to the one after; None: not in the test."""
    before = [row for row in run(specimen) if row[1] < CRITICAL]
    after = [row for row in run(specimen) if row[1] >= CRITICAL]
    if not after:
        return None
    (x0, y0), (x1, y1) = before[-1], after[0]
    return x0 + (CRITICAL - y0) / (y1 - y0) * (x1 - x0)


def forecasts(
    tell: Callable[[Run, Sequence[Run]], Crossing | None], *, failed: bool = True
) -> list[Forecast]:
    """Tell each specimen from its own first values and all of the others': 36 of those that failed.

    failed: False for those that the end of the test cut off, where there is nothing to compare with.
    """
    made = []
    for specimen, whole in enumerate(map(run, range(len(PATHS)))):
        if (crosses(specimen) is not None) != failed:
            continue
        others = [run(other) for other in range(len(PATHS)) if other != specimen]
        for share in SHARES:
            known = ceil(share * len(whole) - 1e-9)
            if told := tell(whole[:known], others):
                made.append(Forecast(specimen, known, crosses(specimen), told))
    return made


def by_path(known: Run, others: Sequence[Run]) -> Crossing | None:
    """What we say now."""
    return look([Point(*row) for row in known], lower=None, upper=CRITICAL, kin=others).crossing


def by_straight_line(known: Run, _others: Sequence[Run], limit: float = CRITICAL) -> Crossing | None:
    """What we said before: the robust line, and the 90 % interval of its slope carried on."""
    if len(known) < LEAST:
        return None
    line, last = theil_sen(*zip(*known, strict=True), sure=0.9), known[-1][0]
    if line.low <= 0:
        return None
    hours = [
        max(line.hours + (limit - line.value) / slope, last) for slope in (line.slope, line.high, line.low)
    ]
    return Crossing(True, *hours)
