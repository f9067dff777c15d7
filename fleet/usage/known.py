"""Days whose hours are known beforehand: booked hires, planned jobs, days in the shop or tagged out."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike


class Known(NamedTuple):
    """Periods in which a machine's hours are not left to the guess; arrays, one entry per period.

    machine: int; start, end: days from today (a start in the past is fine); hours: hours a day within it,
    0 for days in the shop. Where periods of one machine overlap the one that starts first holds.
    """

    machine: np.ndarray
    start: np.ndarray
    end: np.ndarray
    hours: np.ndarray


def laid_out(known: Known, machines: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The periods as tables [machines, most periods of one]: start, end, hours a day; in order, disjoint.

    Rows are filled up with periods that never come (start and end inf).
    """
    machine, start = np.asarray(known.machine, np.int64), np.asarray(known.start, float)
    order = np.lexsort((start, machine))
    machine, start = machine[order], start[order]
    end, hours = np.asarray(known.end, float)[order], np.asarray(known.hours, float)[order]
    place = np.arange(len(machine)) - np.searchsorted(machine, machine)
    width = int(place.max(initial=-1)) + 1
    starts, ends, rates = (np.full((machines, width), fill) for fill in (np.inf, np.inf, 0.0))
    starts[machine, place], ends[machine, place], rates[machine, place] = (
        start,
        end,
        np.clip(hours, 0.0, 24.0),
    )
    reached = np.full(machines, -np.inf)
    for j in range(width):
        starts[:, j] = np.maximum(starts[:, j], reached)
        ends[:, j] = np.maximum(ends[:, j], starts[:, j])
        reached = np.where(np.isfinite(ends[:, j]), ends[:, j], reached)
    return starts, ends, rates


def passing_through(
    quantile: Callable[[np.ndarray, np.ndarray], np.ndarray],
    *,
    remaining: ArrayLike,
    since: ArrayLike,
    starts: np.ndarray,
    ends: np.ndarray,
    rates: np.ndarray,
) -> np.ndarray:
    """Days from the last reading to the crossing where some of the days ahead are known.

    quantile(rows, hours): days of guessed use after which ``hours`` are run, increasing in hours, for a
    bool array of rows. starts, ends, rates: periods of each row's machine, [k, periods], days from today.
    The guess stands still within a period, in which the known hours are run instead.
    """
    left = np.array(remaining, float)
    lost = np.zeros(len(left))  # days of the periods behind
    days = np.full(len(left), np.nan)
    everything = np.ones(len(left), bool)
    free = quantile(everything, left)
    for j in range(starts.shape[1]):
        start = np.maximum(starts[:, j] + since, lost)
        end = np.maximum(ends[:, j] + since, start)
        open_ = np.isnan(days)
        days = np.where(open_ & (free + lost <= start), free + lost, days)
        open_ = np.isnan(days)
        with np.errstate(invalid="ignore"):
            length = np.where(open_, end - start, 0.0)
        after = left - rates[:, j] * length
        after_free = quantile(everything, after)
        within = open_ & (after_free <= start - lost)
        if within.any():
            need = left[within] - _hours_by(quantile, within, start[within] - lost[within], left[within])
            days[within] = start[within] + need / rates[within, j]
        left, free = np.where(open_, after, left), np.where(open_, after_free, free)
        lost = lost + length
    return np.where(np.isnan(days), free + lost, days)


def _hours_by(
    quantile: Callable[[np.ndarray, np.ndarray], np.ndarray],
    rows: np.ndarray,
    days: np.ndarray,
    most: np.ndarray,
) -> np.ndarray:
    """Hours whose quantile is ``days``: the inverse of ``quantile`` between 0 and ``most``, by bisection."""
    low, high = np.zeros(len(days)), np.array(most, float)
    for _ in range(40):
        middle = 0.5 * (low + high)
        beyond = quantile(rows, middle) > days
        low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
    return low
