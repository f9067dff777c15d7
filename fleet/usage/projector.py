"""Pace and calendar together: what was learned of machines, ready to be asked for days."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.usage.scheduled_days import ScheduledHours

from . import crossing, pace
from . import rhythm as calendar
from .history import Increments
from .rhythm import Rhythm

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Projector:
    """How machines are used, as known at ``now`` (day since 1970). rhythm is None while little is known."""

    now: float
    pace: pace.Pace
    kind: NDArray[np.int64]
    rhythm: Rhythm | None

    def crossings(
        self,
        *,
        machine: ArrayLike,
        remaining: ArrayLike,
        last: ArrayLike,
        known: ScheduledHours | None = None,
    ) -> crossing.Crossing:
        """Days from now until ``remaining`` more hours will have been run since day ``last``; arrays [k].

        known: periods in days from now, see ``ScheduledHours``.
        """
        machine, left = np.asarray(machine, np.int64), np.asarray(remaining, float)
        last = np.broadcast_to(np.minimum(np.asarray(last, float), self.now), left.shape)
        if self.rhythm is None:
            return crossing.first_passage(
                self.pace, machine=machine, remaining=left, since=self.now - last, known=known
            )
        kind = self.kind[machine]
        now = self.rhythm.worked_by(np.full(left.shape, self.now), kind)
        ahead = crossing.first_passage(
            self.pace,
            machine=machine,
            remaining=left,
            since=now - self.rhythm.worked_by(last, kind),
            known=self._on_its_clock(known, self.rhythm) if known is not None else None,
        )
        least = np.maximum(left / crossing.CLOCK - (self.now - last), 0.0)  # no machine outruns the clock
        days = [
            np.maximum(self.rhythm.day_when(now + quantile, kind) - self.now, least) for quantile in ahead
        ]
        return crossing.Crossing(*(np.where(each <= crossing.HORIZON, each, np.inf) for each in days))

    def _on_its_clock(self, known: ScheduledHours, clock: Rhythm) -> ScheduledHours:
        kind = self.kind[np.asarray(known.machine, np.int64)]
        now = clock.worked_by(np.full(kind.shape, self.now), kind)
        start, end = (clock.worked_by(self.now + np.asarray(day, float), kind) - now for day in known[1:3])
        days = np.asarray(known.end, float) - np.asarray(known.start, float)
        with np.errstate(divide="ignore", invalid="ignore"):
            rate = np.where(end > start, np.asarray(known.hours, float) * days / (end - start), 0.0)
        return ScheduledHours(known.machine, start, end, rate)


def learn(
    increments: Increments,
    *,
    machine_type: ArrayLike,
    now: float,
    organisation: ArrayLike | None = None,
    teaches: ArrayLike | None = None,
    habits: pace.Habits = pace.HABITS,
) -> Projector:
    """Learn pace and rhythm from increments that ended by ``now``; arguments as ``pace.estimate``."""
    labels = np.broadcast_to(np.asarray(machine_type), (increments.machines,))
    kind = np.unique(labels, return_inverse=True)[1].reshape(-1).astype(np.int64)
    taught = increments if teaches is None else increments.of(np.asarray(teaches, bool))
    clock = calendar.learn(taught, kind=kind, now=now) if increments.machines else None
    as_of: float | Floats = now
    if clock is not None:
        increments = clock.on_its_clock(increments, kind)
        as_of = clock.worked_by(np.full(len(kind), now), kind)
    usage = pace.estimate(
        increments,
        machine_type=machine_type,
        as_of=as_of,
        organisation=organisation,
        teaches=teaches,
        habits=habits,
    )
    return Projector(now, usage, kind, clock)
