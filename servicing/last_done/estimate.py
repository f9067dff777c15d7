"""The half of a statement that nobody gave: the day of some hours, the hours of a day.

Between two readings a machine is taken to run evenly; beyond them, at its usual pace. Linear interpolation,
as `numpy.interp` has it.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

import numpy as np

from fleet.usage.days import date_of, number_of

OLDEST = timedelta(days=40 * 365)  # further back than anything that still matters
SLOWEST = 0.001  # hours a day


@dataclass(frozen=True)
class Course:
    """How a machine's hours ran. days: days since 1970 with fractions, hours: total hours, both rising.

    pace: hours a day beyond them.
    """

    days: np.ndarray
    hours: np.ndarray
    pace: float = 0.0

    @property
    def is_known(self) -> bool:
        """Whether anything was ever read."""
        return bool(len(self.days))

    def day_at(self, hours: Decimal, *, today: date) -> date:
        """Return the day on which it had so many hours, today at the latest. Needs a reading."""
        wanted, pace = float(hours), max(self.pace, SLOWEST)
        if wanted < self.hours[0]:
            day = self.days[0] - (self.hours[0] - wanted) / pace
        elif wanted > self.hours[-1]:
            day = self.days[-1] + (wanted - self.hours[-1]) / pace
        else:
            day = np.interp(wanted, self.hours, self.days)
        latest = number_of(today)
        found = date_of(float(np.clip(np.floor(day), latest - OLDEST.days, latest)))
        assert found is not None
        return found

    def hours_on(self, day: date) -> Decimal:
        """Return the hours it had on a day, 0 at the least. Needs a reading."""
        wanted = number_of(day)
        if wanted < self.days[0]:
            hours = self.hours[0] - (self.days[0] - wanted) * self.pace
        else:
            hours = np.interp(wanted, self.days, self.hours)  # never more than was read
        return Decimal(f"{max(float(hours), 0):.1f}")

    def between(self, day: date) -> tuple[Decimal, Decimal] | None:
        """Return the least and the most hours it can have had on a day; None where readings don't say.

        Hours read on that day itself bound it, too.
        """
        wanted = number_of(day)
        before, after = self.days < wanted, self.days >= wanted + 1
        if not before.any() and not after.any():
            return None
        least = float(self.hours[before][-1]) if before.any() else 0.0
        most = float(self.hours[after][0]) if after.any() else float(self.hours[-1])
        return Decimal(f"{least:.2f}"), Decimal(f"{most:.2f}")
