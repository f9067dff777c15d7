"""How good would the projection have been on a log book? Beside the rules people use by hand.

Cases are chosen from the readings themselves: every so many hours is a mark, and for each mark we stand at
the first reading from which at most 80 %, and at most 40 %, of that distance is left. Every forecast sees
only readings up to the day it stands on.
"""

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from . import crossing, history, pace
from .figures import marked
from .language import gettext as _

LEVELS = np.array([0.1, 0.5, 0.9])
AHEAD = (0.8, 0.4)  # shares of the distance between marks, left to go where a forecast is made
TWENTIETHS = np.arange(0.05, 1.0, 0.05)
DAYS_AFTER = 90.0  # days of data that must follow an origin, or its forecast can't be scored


class LogBook(NamedTuple):
    """Readings ordered by machine and day, those that can be true: machine numbers 0.., days, total hours."""

    machine: np.ndarray
    day: np.ndarray
    hours: np.ndarray
    types: np.ndarray  # per machine

    @property
    def machines(self) -> int:
        return len(self.types)

    def increments(self) -> history.Increments:
        return history.increments(
            machine=self.machine, day=self.day, hours=self.hours, machines=self.machines
        )


class Cases(NamedTuple):
    """Forecasts to make: arrays [k]. ``days`` from origin until reached, NaN: not within the data."""

    machine: np.ndarray
    origin: np.ndarray
    remaining: np.ndarray
    days: np.ndarray
    last_mark: np.ndarray  # day on which the mark before was passed, NaN if before the first reading
    end: np.ndarray  # days from origin to the last day of the data

    def pick(self, which: np.ndarray | slice) -> "Cases":
        return Cases(*(column[which] for column in self))


class Score(NamedTuple):
    """One row of the table: days, and shares 0..1."""

    name: str
    cases: int
    mae: float
    bias: float  # forecast less actual
    pinball: float
    coverage: float
    width: float


def log_book(*, machine: ArrayLike, day: ArrayLike, hours: ArrayLike, types: ArrayLike) -> LogBook:
    """Order and clean raw readings; ``types`` has one entry per machine."""
    machine, day, hours = np.asarray(machine, np.int64), np.asarray(day, float), np.asarray(hours, float)
    order = np.lexsort((day, machine))
    machine, day, hours = machine[order], day[order], hours[order]
    kept = history.clean(machine=machine, day=day, hours=hours)
    return LogBook(machine[kept], day[kept], hours[kept], np.asarray(types))


def choose(book: LogBook, *, every: float = 100.0, days_after: float = DAYS_AFTER) -> Cases:
    """Choose the cases: a mark every ``every`` hours, from the second mark a machine passes on.

    Raises ValueError for ``every`` that is not above zero.
    """
    if not every > 0:
        raise ValueError("due points must be some hours apart")
    end = book.day.max(initial=0.0)
    rows = [row for machine in range(book.machines) for row in _of_machine(book, machine, every, end)]
    columns = np.array(rows, float).reshape(-1, 6).T
    cases = Cases(columns[0].astype(np.int64), *columns[1:])
    return cases.pick(cases.end >= days_after)


def _of_machine(book: LogBook, machine: int, every: float, end: float) -> Iterator[tuple[float, ...]]:
    own = slice(*np.searchsorted(book.machine, [machine, machine + 1]))
    day, hours = book.day[own], np.maximum.accumulate(book.hours[own])
    if len(day) < 3:
        return
    for mark in np.arange(every * (hours[0] // every + 2), hours[-1] + every, every):
        reached = _reached(day, hours, mark)
        for share in AHEAD:
            at = int(np.searchsorted(hours, mark - share * every))
            if 2 <= at < len(day) and hours[at] < mark - 0.25 * every:
                yield (
                    machine,
                    day[at],
                    mark - hours[at],
                    np.ceil(reached) - day[at],
                    _reached(day, hours, mark - every),
                    end - day[at],
                )


def _reached(day: np.ndarray, hours: np.ndarray, mark: float) -> float:
    """Day on which ``mark`` was reached, between two readings by proportion; NaN outside the readings."""
    if not hours[0] <= mark <= hours[-1]:
        return np.nan
    j = max(int(np.searchsorted(hours, mark)), 1)
    return float(day[j - 1] + (mark - hours[j - 1]) / (hours[j] - hours[j - 1]) * (day[j] - day[j - 1]))


# ------------------------------------------------- forecasts, all [cases, 3] days from the origin


def ours(
    book: LogBook,
    cases: Cases,
    *,
    organisation: ArrayLike | None = None,
    habits: pace.Habits = pace.HABITS,
    step: Callable[[int], None] = lambda _done: None,
) -> tuple[np.ndarray, np.ndarray]:
    """Our quantiles [cases, 3] and the probability we gave to what came [cases], NaN where nothing came.

    organisation: its number, by machine; left out, all are of one. ``step`` is told how many cases are done,
    for a progress bar.
    """
    forecast, given = np.zeros((len(cases.machine), 3)), np.full(len(cases.machine), np.nan)
    increments = book.increments()
    for origin in np.unique(cases.origin):
        at = np.flatnonzero(cases.origin == origin)
        usage = pace.estimate(
            increments, machine_type=book.types, as_of=origin, organisation=organisation, habits=habits
        )
        machine, remaining = cases.machine[at], cases.remaining[at]
        ahead = crossing.first_passage(usage, machine=machine, remaining=remaining)
        forecast[at] = np.minimum(np.stack(ahead, 1), crossing.HORIZON)
        came = np.nan_to_num(cases.days[at])
        chance = crossing.probability_before(usage, machine=machine, remaining=remaining, days=came)
        given[at] = np.where(np.isnan(cases.days[at]), np.nan, chance)
        step(len(at))
    return forecast, given


def by_hand(book: LogBook, cases: Cases, start: np.ndarray | float) -> np.ndarray:
    """Likely day of a rule: hours to go over the rate since ``start`` (a day, number or [cases]), [cases].

    The rate runs from the last reading on or before ``start``. One that did not run since then takes its
    lifetime rate, and without that 1 h a day.
    """
    if len(cases.machine) == 0:
        return np.zeros(0)
    key = book.machine * _span(book) + book.day - book.day.min()
    low = book.day.min()

    def index(day: np.ndarray) -> np.ndarray:
        day = np.clip(day, low, book.day.max())
        return np.asarray(np.searchsorted(key, cases.machine * _span(book) + day - low, side="right") - 1)

    first = np.searchsorted(book.machine, cases.machine)
    now = index(cases.origin)
    start = np.broadcast_to(np.asarray(start, float), cases.origin.shape)
    since = np.maximum(index(np.where(np.isnan(start), low, start)), first)

    def rate(begin: np.ndarray) -> np.ndarray:
        days = np.maximum(book.day[now] - book.day[begin], 1.0)
        return np.asarray((book.hours[now] - book.hours[begin]) / days)

    best = np.where(rate(since) > 0, rate(since), rate(first))
    return np.asarray(cases.remaining / np.where(best > 0, best, 1.0))


def _span(book: LogBook) -> float:
    return float(book.day.max() - book.day.min()) + 1.0


def with_spread(likely: np.ndarray, cases: Cases, *, folds: int = 5) -> np.ndarray:
    """Early and late day for a rule: quantiles of its relative error on other machines, [cases, 3]."""
    forecast = np.stack([likely] * 3, 1)
    ratio = outcome(cases, likely) / np.maximum(likely, 0.5)
    fold = cases.machine % folds
    for k in range(folds):
        others = ratio[fold != k] if (fold != k).any() else ratio
        if len(others):
            forecast[fold == k, 0] *= np.quantile(others, 0.1)
            forecast[fold == k, 2] *= np.quantile(others, 0.9)
    return forecast


def all_rules(book: LogBook, cases: Cases) -> dict[str, np.ndarray]:
    """The forecasts of the rules people use by hand, by name."""
    starts = {
        "lifetime rate": np.full(len(cases.origin), -np.inf),
        "last 30 days": cases.origin - 30.0,
        "last 90 days": cases.origin - 90.0,
        "since last service": cases.last_mark,
    }
    return {name: with_spread(by_hand(book, cases, start), cases) for name, start in starts.items()}


# ------------------------------------------------- scores


def outcome(cases: Cases, forecast: np.ndarray) -> np.ndarray:
    """Days to the actual day; what did not come counts as the end of the data, or the forecast if later."""
    end, days = cases.end, cases.days
    if np.ndim(forecast) > 1:
        end, days = end[:, None], days[:, None]
    return np.where(np.isnan(days), np.maximum(end, forecast), days)


def pinball(cases: Cases, forecast: np.ndarray) -> np.ndarray:
    """Pinball loss in days, [cases, 3] (Koenker and Bassett 1978)."""
    miss = outcome(cases, forecast) - forecast
    return np.asarray(np.maximum(LEVELS * miss, (LEVELS - 1) * miss))


def score(name: str, cases: Cases, forecast: np.ndarray) -> Score:
    """Score forecasts [cases, 3]; of no cases the figures are NaN."""
    if len(forecast) == 0:
        return Score(name, 0, *[float("nan")] * 5)
    actual = outcome(cases, forecast[:, 1])
    miss = forecast[:, 1] - actual
    return Score(
        name=name,
        cases=len(forecast),
        mae=float(np.abs(miss).mean()),
        bias=float(miss.mean()),
        pinball=float(pinball(cases, forecast).mean()),
        coverage=float(((actual >= forecast[:, 0]) & (actual <= forecast[:, 2])).mean()),
        width=float((forecast[:, 2] - forecast[:, 0]).mean()),
    )


def by_type(book: LogBook, cases: Cases, forecast: np.ndarray) -> list[Score]:
    """Scores by machine type, ordered by its label."""
    kind = book.types[cases.machine]
    return [score(str(t), cases.pick(kind == t), forecast[kind == t]) for t in np.unique(kind)]


def by_hours_left(
    cases: Cases, forecast: np.ndarray, edges: Sequence[float] = (25.0, 50.0, 75.0, 100.0, 250.0)
) -> list[Score]:
    """Scores by hours left to go at the time of the forecast; empty bands are left out."""
    band = np.searchsorted(edges, cases.remaining)
    bounds = [0.0, *edges, np.inf]
    names = {
        b: _("over {first} h").format(first=first)
        if np.isinf(bounds[b + 1])
        else _("{first} to {last} h").format(first=first, last=marked(f"{bounds[b + 1]:g}"))
        for b, first in enumerate(marked(f"{bound:g}") for bound in bounds[:-1])
    }
    return [score(names[b], cases.pick(band == b), forecast[band == b]) for b in np.unique(band)]


def reliability(given: np.ndarray, levels: np.ndarray = TWENTIETHS) -> tuple[np.ndarray, np.ndarray]:
    """Points of the reliability plot: the probability said, and the share of outcomes that came by then."""
    given = given[~np.isnan(given)]
    share = np.array([np.mean(given <= level) if len(given) else np.nan for level in levels])
    return np.asarray(levels), share
