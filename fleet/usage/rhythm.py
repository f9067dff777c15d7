"""The calendar's part in use: the year's months and the week's days, learned once more than a year is known.

Use is projected on a clock of its own, on which a busy day is long and a quiet one short: days of work. On
that clock the pace is even, so that ``pace`` and ``crossing`` need not know of summer or Sunday; a crossing
found on it is read back as a calendar day. The weights are those that make the hours run in each month
(weekday) what the machines' own paces expect. Each increment's hours are shared out over the days it spans by
the present weights, and new weights follow: the EM of a Poisson model with multiplicative effects (Dempster,
Laird and Rubin 1977). A type's months lean on the organisation's, these on a year without season.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .history import Increments

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

YEAR = 365.25
ENOUGH = 400.0  # days an organisation must be known for
ROUNDS = 12
FIRM_DAYS = 400.0  # machine-days in a month that "no season" counts for, in the organisation
KIND_DAYS = 250.0  # machine-days in a month that the organisation counts for, in a type
LEAST, MOST = 0.08, 4.0  # of a weight
MONTHS, WEEKDAYS = 12, 7


@dataclass(frozen=True)
class Rhythm:
    """Days of work since ``first`` at each midnight, [kinds, days]; rises throughout."""

    first: float
    worked: Floats

    def worked_by(self, day: ArrayLike, kind: ArrayLike) -> Floats:
        """Days of work from the table's beginning to ``day`` (since 1970), for machines of a kind; [k]."""
        place = np.asarray(day, float) - self.first
        kind = np.broadcast_to(np.asarray(kind, np.int64), place.shape)
        low = np.clip(np.floor(np.nan_to_num(place)), 0, self.worked.shape[1] - 2).astype(np.int64)
        before, after = self.worked[kind, low], self.worked[kind, low + 1]
        worked: Floats = before + (place - low) * (after - before)
        return worked

    def day_when(self, worked: ArrayLike, kind: ArrayLike) -> Floats:
        """The day on which so many days of work were done: the inverse of ``worked_by``; inf stays inf."""
        worked = np.asarray(worked, float)
        kind = np.broadcast_to(np.asarray(kind, np.int64), worked.shape)
        days = np.full(worked.shape, np.inf)
        for each in np.unique(kind):
            own = (kind == each) & np.isfinite(worked)
            table = self.worked[each]
            low = np.clip(np.searchsorted(table, worked[own], side="right") - 1, 0, len(table) - 2)
            days[own] = self.first + low + (worked[own] - table[low]) / (table[low + 1] - table[low])
        return days

    def on_its_clock(self, increments: Increments, kind: Ints) -> Increments:
        """The increments with their lengths in days of work; ``kind`` has an entry per machine."""
        own = kind[increments.machine]
        return Increments(
            machine=increments.machine,
            start=self.worked_by(increments.start, own),
            end=self.worked_by(increments.end, own),
            hours=increments.hours,
            machines=increments.machines,
        )


def learn(increments: Increments, *, kind: Ints, now: float, ahead: float = 3.2 * YEAR) -> Rhythm | None:
    """Learn the rhythm of one organisation's machines; None while it is known for little more than a year.

    kind: number of each machine's type, 0.., [machines]. The table reaches ``ahead`` days beyond ``now``.
    """
    if not len(increments.machine) or increments.end.max() - increments.start.min() < ENOUGH:
        return None
    first = np.floor(increments.start.min()) - 1
    days = np.arange(first, np.ceil(now + ahead) + 2)
    month, weekday = _month(days), (days.astype(np.int64) + 3) % 7
    own = kind[increments.machine]
    kinds = int(kind.max()) + 1
    even = np.ones((kinds, len(days)))
    week = _fitted(increments, own, weekday, WEEKDAYS, even, kinds)
    week = np.repeat(week.sum(0, keepdims=True) / kinds, kinds, axis=0)  # a week is the organisation's
    season = _fitted(increments, own, month, MONTHS, week[:, weekday], kinds)
    weight = np.clip(season[:, month] * week[:, weekday], LEAST, MOST)
    weight /= weight.mean(axis=1, keepdims=True)
    return Rhythm(float(first), np.concatenate([np.zeros((kinds, 1)), np.cumsum(weight, axis=1)], axis=1))


def _fitted(increments: Increments, own: Ints, bin_of: Ints, bins: int, given: Floats, kinds: int) -> Floats:
    """Weights [kinds, bins] that, on top of the weights ``given`` for each day, explain the hours run."""
    first = np.floor(increments.start.min()) - 1
    spans = np.zeros((len(own), bins))  # days of each bin in each increment, on the clock of ``given``
    for each in range(bins):
        table = np.concatenate(
            [np.zeros((kinds, 1)), np.cumsum(np.where(bin_of == each, given, 0.0), axis=1)], axis=1
        )
        clock = Rhythm(float(first), table)
        spans[:, each] = clock.worked_by(increments.end, own) - clock.worked_by(increments.start, own)
    hours = np.bincount(increments.machine, weights=increments.hours, minlength=increments.machines)
    weights = np.ones((kinds, bins))
    for _ in range(ROUNDS):
        expected = spans * weights[own]
        length = expected.sum(1)
        lived = np.bincount(increments.machine, weights=length, minlength=increments.machines)
        pace = (hours / np.maximum(lived, 1e-9))[increments.machine]  # hours per day of work, by machine
        share = increments.hours / np.maximum(length * np.maximum(pace, 1e-9), 1e-9)
        ran = _by_kind(expected * share[:, None], own, kinds)  # in days of work
        could = _by_kind(spans * (pace > 0)[:, None], own, kinds)
        firm = (ran.sum(0) + FIRM_DAYS) / (could.sum(0) + FIRM_DAYS)
        weights = (ran + KIND_DAYS * firm) / (could + KIND_DAYS)
        weights /= weights.mean(axis=1, keepdims=True)
    return weights


def _by_kind(values: Floats, own: Ints, kinds: int) -> Floats:
    return np.stack([np.bincount(own, weights=column, minlength=kinds) for column in values.T], axis=1)


def _month(days: Floats) -> Ints:
    """The month of each day since 1970, January 0, to a day or so: twelfths of the year."""
    return ((days % YEAR) / (YEAR / MONTHS)).astype(np.int64) % MONTHS
