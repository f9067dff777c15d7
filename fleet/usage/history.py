"""From readings to increments: which readings can be true, and what was run between them.

Many machines lie end to end in flat arrays ordered by machine and then by day, so that nothing
here loops over machines. One new reading is judged by ``plausibility.judge``, re-exported as ``judge``.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fleet.usage.plausibility import CLOCK, RESOLUTION, Verdict, judge

__all__ = ["Increments", "Verdict", "clean", "increments", "judge"]

PASSES = 4  # rounds of taking out single false readings; runs longer than this are split, not dropped


@dataclass(frozen=True, slots=True)
class Increments:
    """Hours run between neighbouring counted readings.

    machine   int array [k], ascending
    start,end float arrays [k], days; end > start, ascending within a machine
    hours     float array [k], 0 <= hours <= 24 h for each day between (plus the meter's 0.1 h)
    machines  how many machines there are, also those without any increment
    """

    machine: np.ndarray
    start: np.ndarray
    end: np.ndarray
    hours: np.ndarray
    machines: int

    def of(self, machines: np.ndarray) -> "Increments":
        """Those of the machines that are True in a bool array [machines]."""
        own = machines[self.machine]
        return Increments(self.machine[own], self.start[own], self.end[own], self.hours[own], self.machines)

    @property
    def days(self) -> np.ndarray:
        """Length of each increment in days."""
        return np.asarray(self.end - self.start)


def clean(
    *, machine: ArrayLike, day: ArrayLike, hours: ArrayLike, segment: ArrayLike | None = None
) -> np.ndarray:
    """Mark the readings that can be true: a bool array, True where the reading counts.

    All arrays have one entry per reading, ordered by machine and then day; ``segment`` (optional)
    numbers the meters a machine has had. A reading is marked False when it is not a finite, non-negative
    number, when a later one of the same machine and moment replaces it, or when leaving it out
    mends an impossible step (backwards, or more than 24 h a day) between its neighbours.
    A lasting drop is left alone: a new meter, not a false reading.
    """
    machine, day, hours = np.asarray(machine), np.asarray(day, float), np.asarray(hours, float)
    group = machine if segment is None else _run_numbers(machine, np.asarray(segment))
    with np.errstate(invalid="ignore"):
        counted = np.isfinite(hours) & np.isfinite(day) & (hours >= 0)
    for _ in range(PASSES):
        at = np.flatnonzero(counted)
        false = _false_readings(group[at], day[at], hours[at])
        if not false.any():
            break
        counted[at[false]] = False
    return np.asarray(counted)


def increments(
    *,
    machine: ArrayLike,
    day: ArrayLike,
    hours: ArrayLike,
    segment: ArrayLike | None = None,
    machines: int | None = None,
) -> Increments:
    """Hours run between neighbouring readings that can be true.

    ``machine`` holds numbers 0..machines-1; readings may come in any order. A step that stays impossible
    after cleaning (a meter exchanged without note) or that joins two meter segments gives no increment.
    """
    of, at, run = np.asarray(machine, np.int64), np.asarray(day, float), np.asarray(hours, float)
    meter = np.zeros(len(of), np.int64) if segment is None else np.asarray(segment)
    if not _ordered(of, at):
        order = np.lexsort((at, of))
        of, at, run, meter = of[order], at[order], run[order], meter[order]
    counted = clean(machine=of, day=at, hours=run, segment=meter)
    if not counted.all():
        of, at, run, meter = of[counted], at[counted], run[counted], meter[counted]
    gained, gap = np.diff(run), np.diff(at)
    joined = (of[1:] == of[:-1]) & (meter[1:] == meter[:-1]) & (gap > 0) & _possible(gained, gap)
    return Increments(
        machine=of[1:][joined],
        start=at[:-1][joined],
        end=at[1:][joined],
        hours=np.maximum(gained[joined], 0.0),
        machines=int(of.max(initial=-1)) + 1 if machines is None else int(machines),
    )


def _possible(gained: np.ndarray, gap: np.ndarray) -> np.ndarray:
    """Whether a step of ``gained`` hours in ``gap`` days is neither backwards nor faster than the clock."""
    return np.asarray((gained >= -RESOLUTION) & (gained <= CLOCK * gap + RESOLUTION + 1e-9))


def _ordered(machine: np.ndarray, day: np.ndarray) -> bool:
    same = machine[1:] == machine[:-1]
    return bool(np.all((machine[1:] > machine[:-1]) | (same & (day[1:] >= day[:-1]))))


def _run_numbers(machine: np.ndarray, segment: np.ndarray) -> np.ndarray:
    """Number the runs of equal (machine, segment), so that segments are judged apart."""
    new = np.ones(len(machine), bool)
    new[1:] = (machine[1:] != machine[:-1]) | (segment[1:] != segment[:-1])
    return np.cumsum(new)


def _false_readings(group: np.ndarray, day: np.ndarray, hours: np.ndarray) -> np.ndarray:
    """One round: readings whose removal mends a step, and earlier ones of the same moment."""
    n = len(group)
    false = np.zeros(n, bool)
    same = group[1:] == group[:-1]
    gained, gap = np.diff(hours), np.diff(day)
    twin = same & (gap == 0) & (np.abs(gained) <= RESOLUTION)
    false[:-1] |= twin
    broken = same & ~twin & ~_possible(gained, gap)
    if not broken.any():
        return false
    skips = np.zeros(n, bool)  # does the step over reading i, from i-1 to i+1, hold?
    outer = group[2:] == group[:-2]
    skips[1:-1] = outer & _possible(hours[2:] - hours[:-2], day[2:] - day[:-2])
    first = np.ones(n, bool)
    first[1:] = ~same
    last = np.ones(n, bool)
    last[:-1] = ~same
    into = np.zeros(n, bool)
    into[1:] = broken
    out_of = np.zeros(n, bool)
    out_of[:-1] = broken
    follows_well = np.zeros(n, bool)  # the step after the next reading holds
    follows_well[:-2] = (group[2:] == group[1:-1]) & ~broken[1:]
    led_well = np.zeros(n, bool)
    led_well[2:] = (group[1:-1] == group[:-2]) & ~broken[:-1]
    blamed = (
        ((into | out_of) & skips & ~first & ~last)
        | (last & into & led_well)
        | (first & out_of & follows_well)
    )
    both = into & out_of & skips  # a spike: sure; takes precedence over its neighbours
    near_spike = np.zeros(n, bool)
    near_spike[1:] |= both[:-1]
    near_spike[:-1] |= both[1:]
    blamed &= both | ~near_spike
    # of two neighbours blamed for one step take the later: what stood longer is believed
    blamed[:-1] &= ~(blamed[1:] & same & ~both[:-1])
    return false | blamed
