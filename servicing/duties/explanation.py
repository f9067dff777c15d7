"""Why a machine's days are what they are: its pace in words, its past hours and the fan ahead as figures."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

import numpy as np

from fleet.models import Machine
from fleet.usage import calibration
from fleet.usage.days import day_of
from servicing.duties import accuracy, projection

PAST_DAYS = 120
STEPS = 24


@dataclass(frozen=True)
class Fan:
    """Arrays. day is days from now; hours are total hours.

    past_day, past_hours: readings of the last months. hours: from now to the mark; early, likely, late: days
    until these are reached, inf where not within three years. mark: total hours of it.
    """

    past_day: np.ndarray
    past_hours: np.ndarray
    hours: np.ndarray
    early: np.ndarray
    likely: np.ndarray
    late: np.ndarray
    mark: float


@dataclass(frozen=True)
class Explanation:
    """working: hours a day on days it runs, lately; mean: hours a day, all days; borrowed: share 0..1 of the
    weight that comes from kin or from what is usual anywhere; kin: machines like it with readings."""

    working: float
    mean: float
    borrowed: float
    kin: int
    fan: Fan | None


def explain(machine: Machine, *, mark: Decimal | None, now: datetime) -> Explanation:
    """Explain a machine's projection; with its next hour mark, if it lies ahead, also as a fan.

    The fan is corrected as the days of duties are. Asks what `projection.learn` asks, and the correction.
    Needs the organisation's scope.
    """
    learned = projection.learn([machine], now=now)
    usage, place = learned.pace_of(machine)
    return Explanation(
        working=float(usage.working[place]),
        mean=float(usage.mean[place]),
        borrowed=float(usage.borrowed[place]),
        kin=int(usage.kin[place]),
        fan=_fan(machine, float(mark), learned) if mark is not None and mark > machine.hours else None,
    )


def _fan(machine: Machine, mark: float, learned: projection.Learned) -> Fan:
    readings, place = learned.readings, learned.number[machine.pk]
    days = readings.day - day_of(learned.now)
    shown = (readings.machine == place) & (days >= -PAST_DAYS)
    have = float(machine.hours)
    ahead = np.linspace(have, mark, STEPS)[1:]
    said = projection.crossings(learned, machine=np.full(len(ahead), machine.pk), hours=ahead)
    crossings = calibration.correct(said, accuracy.correction())
    return Fan(days[shown], readings.hours[shown], ahead, *crossings, mark)
