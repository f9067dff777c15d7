"""The problem of `route` in figures: what one more visit does to time, walking, covers and engine.

Everything inside counts half minutes, in whole numbers, so that equal is equal.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

WARM, ANY, COLD = "warm", "any", "cold"

# Minutes. Common practice, no source.
WALK = 0.5
COVER = 2
WARM_UP = 15
KEEPS_WARM = 90
COOLING = 180

HALF = 2
NEVER = -1

Order = tuple[int, ...]


@dataclass(frozen=True)
class Job:
    """One task as far as its place in the order of work goes. `minutes` hands on, `wait` hands off."""

    id: int
    engine: str = ANY
    place: str = ""
    opens: tuple[str, ...] = ()
    minutes: int = 0
    wait: int = 0
    runs: bool = False


class State(NamedTuple):
    """Where one stands after some visits; times in half minutes from the beginning.

    `effort`: walking and opening; `is_open`: the covers as bits; `waiting`: the job that waits, or NEVER, and
    when it is `ready`; the engine counts as cold from `cold_at` and as warm up to `warm_till`.
    """

    time: int
    effort: int
    walked: int
    place: int
    is_open: int
    waiting: int
    ready: int
    cold_at: int
    warm_till: int

    @property
    def spent(self) -> int:
        """What is made least, so far."""
        return self.time + self.effort

    def nowhere_behind(self, other: "State") -> bool:
        """Whether the same visits from here can't end later than from the other, left at the same place with
        the same covers open and the same job waiting."""
        return (
            self.effort <= other.effort
            and self.time <= other.time
            and self.ready <= other.ready
            and self.cold_at <= other.cold_at
            and self.warm_till >= other.warm_till
        )


class Found(NamedTuple):
    """An order, how the machine stands at its beginning, and the objective in half minutes."""

    objective: int
    stands: str
    visits: Order


class Problem:
    """Jobs by their number in the list, visits by twice that number; plus one where it is the second."""

    def __init__(self, jobs: Iterable[Job], walk: Sequence[str]) -> None:
        self.jobs = list(jobs)
        self.places = len(walk)
        self.place = [walk.index(job.place) if job.place in walk else NEVER for job in self.jobs]
        self.covers = sorted({cover for job in self.jobs for cover in job.opens})
        bits = {cover: 1 << number for number, cover in enumerate(self.covers)}
        self.needs = [sum(bits[cover] for cover in set(job.opens)) for job in self.jobs]
        self.minutes: dict[int, int] = {}
        for number, job in enumerate(self.jobs):
            visits = self.visits_of(number)
            for visit in visits:
                self.minutes[visit] = job.minutes * HALF // len(visits)
        self._known_sums: dict[int, tuple[int, int, int, bool, int]] = {}
        self._known_ways: dict[tuple[int, int], int] = {}
        self.heats = [job.engine == WARM or (job.engine == ANY and job.runs) for job in self.jobs]
        self.not_meanwhile = [bool(job.wait) or job.runs or job.engine == WARM for job in self.jobs]

    def visits_of(self, number: int) -> tuple[int, ...]:
        """Return the visits of a job: one, or two where it waits in between."""
        return (2 * number, 2 * number + 1) if self.jobs[number].wait else (2 * number,)

    def covers_in(self, bits: int) -> set[str]:
        """Return the names of covers given as bits."""
        return {cover for number, cover in enumerate(self.covers) if bits >> number & 1}

    def begin(self, stands: str) -> State:
        """Return the state before the first visit of a machine that stands WARM or COLD."""
        if stands == WARM:
            return State(0, 0, 0, NEVER, 0, NEVER, 0, COOLING * HALF, KEEPS_WARM * HALF)
        return State(0, 0, 0, NEVER, 0, NEVER, 0, 0, NEVER)

    def step(self, state: State, visit: int) -> State | None:
        """Return the state after one more visit; None where the rules forbid it now."""
        number, second = visit >> 1, visit & 1
        time, effort, walked, place, is_open, waiting, ready, cold_at, warm_till = state
        if second:
            if waiting != number:
                return None
        elif waiting >= 0 and self.not_meanwhile[number]:
            return None
        job, needs = self.jobs[number], self.needs[number]
        walk = self._way(place, self.place[number])
        handling = walk + COVER * HALF * (needs & ~is_open).bit_count()
        time += handling
        if second:
            time = max(time, ready)
            waiting, ready = NEVER, 0
        elif job.engine == COLD:
            time = max(time, cold_at)
        elif job.engine == WARM and time > warm_till:
            time += WARM_UP * HALF
            warm_till = time + KEEPS_WARM * HALF
        time += self.minutes[visit]
        if self.heats[number]:
            cold_at = time + COOLING * HALF
        if job.wait and not second:
            waiting, ready = number, time + job.wait * HALF
        is_open = needs | self.needs[waiting] if waiting >= 0 else needs
        place = place if self.place[number] < 0 else self.place[number]
        return State(
            time, effort + handling, walked + walk, place, is_open, waiting, ready, cold_at, warm_till
        )

    def rest(self, state: State, left: int) -> int:
        """Return half minutes, counted as in `spent`, that the visits left (as bits) take at the very least.

        They are the hands-on minutes, opening each cover once more, walking to each place once more, and
        running the engine warm; or, if that is longer, what is left of cooling and the cold work after it.
        """
        minutes, needs, places, warm, cold = self._sums(left)
        handling = COVER * HALF * (needs & ~state.is_open).bit_count() + self._way_to_all(state.place, places)
        warming = WARM_UP * HALF if warm and state.time > state.warm_till else 0
        cooling = state.cold_at - state.time + cold if cold else 0
        return max(minutes + handling + warming, cooling) + handling

    @property
    def everything(self) -> int:
        """All visits as bits."""
        return sum(1 << visit for visit in self.minutes)

    def _sums(self, left: int) -> tuple[int, int, int, bool, int]:
        known = self._known_sums.get(left)
        if known is None:
            minutes = needs = places = cold = 0
            warm = False
            for visit in range(left.bit_length()):
                if not left >> visit & 1:
                    continue
                number, engine = visit >> 1, self.jobs[visit >> 1].engine
                minutes += self.minutes[visit]
                needs |= self.needs[number]
                places |= 1 << self.place[number] if self.place[number] >= 0 else 0
                if not visit & 1:
                    warm = warm or engine == WARM
                    cold += self.minutes[visit] if engine == COLD else 0
            known = self._known_sums[left] = (minutes, needs, places, warm, cold)
        return known

    def _way_to_all(self, here: int, places: int) -> int:
        """Return the shortest way from a place to all of some places (as bits), in half minutes."""
        known = self._known_ways.get((here, places))
        if known is None:
            at = [place for place in range(self.places) if places >> place & 1]
            starts = [here] if here >= 0 else at
            known = min((self._round_from(start, at) for start in starts), default=0)
            self._known_ways[here, places] = known
        return known

    def _round_from(self, start: int, places: Sequence[int]) -> int:
        ahead = sorted((place - start) % self.places for place in places)
        ways = [0, *ahead]
        return min(
            int(WALK * HALF) * min(2 * one + other, one + 2 * other)
            for one, other in (
                (ways[cut], (self.places - ways[cut + 1]) if cut + 1 < len(ways) else 0)
                for cut in range(len(ways))
            )
        )

    def _way(self, here: int, there: int) -> int:
        if here < 0 or there < 0:
            return 0
        apart = abs(here - there)
        return int(WALK * HALF) * min(apart, self.places - apart)
