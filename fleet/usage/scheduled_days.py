"""Days whose hours are known beforehand: booked hires, planned jobs, days in the shop or tagged out."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike


class ScheduledHours(NamedTuple):
    """Periods in which a machine's hours are not left to the guess; arrays, one entry per period.

    machine: int; start, end: days from today (a start in the past is fine); hours: hours a day within it,
    0 for days in the shop. Where periods of one machine overlap the one that starts first holds.
    """

    machine: np.ndarray
    start: np.ndarray
    end: np.ndarray
    hours: np.ndarray


def layered(
    *, machine: ArrayLike, start: ArrayLike, end: ArrayLike, hours: ArrayLike, rank: ArrayLike
) -> ScheduledHours:
    """Periods that may overlap, made disjoint: where several hold, the one of the lowest rank does.

    Arrays, one entry per period, as in ``ScheduledHours``. hours NaN: the guess holds there, whatever ranks
    behind it. Of one rank, the period given last holds. Returned by machine and start; neighbours of equal
    hours are joined.
    """
    of, begin, until = np.asarray(machine, np.int64), np.asarray(start, float), np.asarray(end, float)
    run, place = np.asarray(hours, float), np.asarray(rank, np.int64)
    lasts = until > begin
    of, begin, until, run, place = of[lasts], begin[lasts], until[lasts], run[lasts], place[lasts]
    k = len(of)
    edge_of, edge = np.concatenate([of, of]), np.concatenate([begin, until])
    order = np.lexsort((edge, edge_of))
    new = np.ones(2 * k, bool)
    new[1:] = (np.diff(edge_of[order]) != 0) | (np.diff(edge[order]) != 0)
    number = np.empty(2 * k, np.int64)
    number[order] = np.cumsum(new) - 1
    edge_of, edge = edge_of[order][new], edge[order][new]
    rate = np.full(len(edge), np.nan)  # of the cell from each edge to the next of its machine
    first, count = number[:k], number[k:] - number[:k]
    for each in np.unique(place)[::-1]:
        at = np.flatnonzero(place == each)
        begins = np.repeat(np.cumsum(count[at]) - count[at], count[at])
        cells = np.repeat(first[at], count[at]) + np.arange(count[at].sum()) - begins
        rate[cells] = np.repeat(run[at], count[at])
    known = np.flatnonzero(~np.isnan(rate))
    after = np.minimum(known + 1, max(len(edge) - 1, 0))
    joined = np.zeros(len(known), bool)
    joined[1:] = (np.diff(known) == 1) & (np.diff(edge_of[known]) == 0) & (np.diff(rate[known]) == 0)
    heads = np.flatnonzero(~joined)
    tails = np.append(heads[1:], len(known))[: len(heads)] - 1
    return ScheduledHours(edge_of[known][heads], edge[known][heads], edge[after][tails], rate[known][heads])


def laid_out(known: ScheduledHours, machines: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
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
        after, after_free = left - rates[:, j] * length, free.copy()
        runs = open_ & (rates[:, j] > 0) & (length > 0)  # where nothing runs, only time passes
        if runs.any():
            after_free[runs] = quantile(runs, after[runs])
        within = runs & (after_free <= start - lost)
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
