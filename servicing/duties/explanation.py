"""Why a machine's days are what they are: its pace in words, its past hours and the fan ahead as figures."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

import numpy as np
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import pgettext, pgettext_lazy

from fleet.models import Machine
from fleet.usage import calibration
from fleet.usage.days import day_of
from fleet.usage.figures import hours
from servicing.duties import accuracy, projection

PAST_DAYS = 120
STEPS = 24
UNKNOWN = 0.98  # share borrowed above which nothing was learned from its own readings
LITTLE = pgettext_lazy("how much was learned from", "a little")
TENTH = pgettext_lazy("how much was learned from", "about a tenth")
QUARTER = pgettext_lazy("how much was learned from", "about a quarter")
THIRD = pgettext_lazy("how much was learned from", "about a third")
SHARES: dict[float, str | Promise] = {
    0.05: LITTLE,
    0.1: TENTH,
    0.25: QUARTER,
    0.33: THIRD,
    0.5: "",
    0.67: THIRD,
    0.75: QUARTER,
    0.9: TENTH,
    0.95: LITTLE,
}


@dataclass(frozen=True)
class Fan:
    """Arrays. day is days from now; hours are total hours.

    past_day, past_hours: readings of the last months. have: hours now. hours: from there to the mark; early,
    likely, late: days until these are reached, inf where not within three years. mark: total hours of it.
    """

    past_day: np.ndarray
    past_hours: np.ndarray
    have: float
    hours: np.ndarray
    early: np.ndarray
    likely: np.ndarray
    late: np.ndarray
    mark: float


@dataclass(frozen=True)
class Explanation:
    """working: hours a day on days it runs, lately; mean: hours a day, all days; borrowed: share 0..1 of the
    weight that comes from similar machines or from what is usual anywhere; kin: how many such machines."""

    working: float
    mean: float
    borrowed: float
    kin: int
    fan: Fan | None

    @property
    def in_words(self) -> str:
        """The pace, and what it was learned from."""
        if self.borrowed > UNKNOWN:
            said = _("Too few readings yet: {hours} a day is a guess from {others}.")
            return said.format(hours=hours(self.mean), others=self._others)
        pace = _("When it runs, about {working} a day lately; over all days, {mean} a day.").format(
            working=hours(self.working), mean=hours(self.mean)
        )
        if self.borrowed < 1 - UNKNOWN:
            return pace
        own, others = pgettext("learned from", "its own readings"), self._others
        share = min(SHARES, key=lambda each: abs(each - self.borrowed))
        most, rest = (others, own) if share > 0.5 else (own, others)
        if share == 0.5:
            learned = _("Learned half from {own}, half from {others}.").format(own=own, others=others)
        else:
            learned = _("Learned mostly from {most}, {share} from {rest}.").format(
                most=most, share=SHARES[share], rest=rest
            )
        return f"{pace} {learned}"

    @property
    def _others(self) -> str:
        if not self.kin:
            return pgettext("learned from", "the usual use of any machine")
        if self.kin == 1:
            return pgettext("learned from", "one similar machine")
        return pgettext("learned from", "{number} similar machines").format(number=self.kin)


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
    return Fan(days[shown], readings.hours[shown], have, ahead, *crossings, mark)
