"""What a column holds against what the machines showed before: does it go on from there, as a meter does?

The clock's law is that of `fleet.usage.plausibility`: no more than 24 hours a day, never falling.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from itertools import pairwise

from fleet.imports.fleet import Known
from fleet.usage.plausibility import CLOCK, RESOLUTION

DAY = 86_400.0  # seconds
VAGUE = 1.0  # days that a plain date may be off
FITS, MISFITS = 0.8, 0.5
"""Shares of a column's figures from which it goes on as the meter, and below which it doesn't."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a column, with its machine and moment as far as they can be told."""

    machine: Known | str
    at: datetime
    shows: Decimal


@dataclass(frozen=True, slots=True)
class Weighed:
    """What a column's figures tell. compared: how many stand beside earlier readings, `fit` of these go on.

    falls: two figures of one machine of which the later is smaller. rising: how many steps don't fall.
    """

    figures: int
    compared: int
    fit: int
    steps: int
    rising: int
    falls: tuple[Figure, Figure] | None

    @property
    def goes_on(self) -> bool:
        """Whether it goes on from what the machines showed before."""
        return self.compared > 0 and self.fit >= FITS * self.compared

    @property
    def contradicts(self) -> bool:
        """Whether it can't be what the machines showed before, or can't be a meter at all."""
        if self.compared:
            return self.fit < MISFITS * self.compared
        return self.rising < FITS * self.steps

    @property
    def may_be(self) -> bool:
        """Whether it may be a meter."""
        return self.figures > 0 and (self.goes_on if self.compared else self.rising >= FITS * self.steps)


def weigh(figures: Sequence[Figure]) -> Weighed:
    """Compare figures with each machine's last reading, and with each other in time."""
    compared = fit = steps = rising = 0
    falls = None
    courses: dict[object, list[Figure]] = defaultdict(list)
    for figure in figures:
        machine = figure.machine
        if isinstance(machine, Known) and machine.last_at is not None:
            compared += 1
            fit += goes_on(machine.last_at, machine.last, figure.at, figure.shows)
        courses[machine.pk if isinstance(machine, Known) else machine].append(figure)
    for course in courses.values():
        course.sort(key=lambda figure: (figure.at, figure.shows))
        for before, after in pairwise(course):
            steps += 1
            if goes_on(before.at, before.shows, after.at, after.shows):
                rising += 1
            elif falls is None and after.shows < before.shows:
                falls = (before, after)
    return Weighed(len(figures), compared, fit, steps, rising, falls)


def goes_on(then: datetime, showed: Decimal, at: datetime, shows: Decimal) -> bool:
    """Whether a meter that showed the one can show the other at that moment, whichever is earlier."""
    days = (at - then).total_seconds() / DAY
    ran = float(shows - showed)
    if days < 0:
        days, ran = -days, -ran
    return -RESOLUTION <= ran <= CLOCK * (days + VAGUE) + RESOLUTION
