"""The order in which the tasks of one stop are best done, as a stated optimisation problem.

**Given**: jobs, each with its place on the machine, the covers it lies behind, hands-on minutes, minutes of
waiting that nobody need stand by (draining), whether the engine must be warm or cold, and whether the machine
may be run in it; and the round, the places in the order one meets them on a walk round the machine.

**Wanted**: how the machine is to stand when work begins (cold, or warm straight from work) and an order of
visits, such that `elapsed + walking + opening` minutes are least. Elapsed minutes hold the walking and the
opening already; they count once more, so that neither is free while something drains. One person works.

**Rules**:

1. A job that waits is two visits, half its minutes each: the second begins when the wait is over. Other jobs
   may come between, but none that waits itself and none in which the machine may be run: nobody starts an
   engine without its oil.
2. From one place to another it is the shorter way round; each place on it takes `WALK` minutes. A job whose
   place is not on the round is done wherever one stands. Work begins at any place.
3. Before a visit the covers it needs are opened, and those it doesn't need are shut, but for those of a job
   that waits. Opening and shutting one takes `COVER` minutes, counted when it is opened.
4. Warm work begins within `KEEPS_WARM` minutes of the engine's last run, or the engine is run for `WARM_UP`
   minutes first, with everything shut (shutting and opening again are in these minutes).
5. Cold work begins `COOLING` minutes after the engine was last warm: at the beginning, or in warm work, or in
   work for a warm or cold engine in which it may be run. The time between is for other work. A short run at
   the end of cold work, to look for leaks, doesn't count.

Preparation comes before the first visit and takes no part. Minutes of the rules are common practice, no
source; how long an engine takes to cool is for the maker's manual and a careful hand to say.

**Solved** exactly for up to `EXACT_UP_TO` jobs (see `route_exact`), beyond that by a search that improves on
two beginnings (see `route_search`). The same jobs always give the same order: there is no clock and no
chance in it, and ties go to the cold machine and to the jobs that came first.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from functools import lru_cache

from servicing.planning.route_exact import exact
from servicing.planning.route_problem import (
    ANY,
    COLD,
    COOLING,
    COVER,
    HALF,
    KEEPS_WARM,
    WALK,
    WARM,
    WARM_UP,
    Job,
    Problem,
    State,
)
from servicing.planning.route_search import search

__all__ = [
    "ANY",
    "COLD",
    "COOLING",
    "COVER",
    "EXACT_UP_TO",
    "KEEPS_WARM",
    "WALK",
    "WARM",
    "WARM_UP",
    "Job",
    "Part",
    "Route",
    "Visit",
    "best",
    "in_order_of",
    "least_possible",
]

EXACT_UP_TO = 8
REMEMBERED = 512


class Part(Enum):
    """Which part of its job a visit is."""

    WHOLE = "whole"
    BEGIN = "begin"
    FINISH = "finish"


@dataclass(frozen=True)
class Visit:
    """One stay at a place. `starts` and `ends` in minutes from the beginning; `idle`: minutes stood waiting
    before it, for oil to run out or the engine to cool; `opens` before it and `closes` after it."""

    job: Job
    part: Part
    starts: float
    ends: float
    idle: float
    warm_up: bool
    opens: tuple[str, ...]
    closes: tuple[str, ...]


@dataclass(frozen=True)
class Route:
    """An order of visits and what it takes, in minutes.

    `stands`: WARM or COLD, how the machine is to stand when work begins; ANY where it makes no difference.
    `proven`: whether no order can be better.
    """

    visits: tuple[Visit, ...]
    stands: str
    elapsed: float
    walking: float
    opening: float
    proven: bool

    @property
    def objective(self) -> float:
        """What is made least: elapsed, walking and opening minutes."""
        return self.elapsed + self.walking + self.opening

    @property
    def idle(self) -> float:
        """Minutes in which there is nothing to do but wait."""
        return sum(visit.idle for visit in self.visits)


def best(jobs: Iterable[Job], walk: Sequence[str]) -> Route:
    """Return the best order of the jobs found, proven best for up to EXACT_UP_TO of them.

    `walk`: the places in the order in which one goes round the machine.
    """
    rows = list(jobs)
    numbered = tuple(replace(job, id=number) for number, job in enumerate(rows))
    route = _solved(numbered, tuple(walk))
    return replace(route, visits=tuple(replace(visit, job=rows[visit.job.id]) for visit in route.visits))


def in_order_of(jobs: Sequence[Job], walk: Sequence[str]) -> Route:
    """Return what it takes to do the jobs as they are listed, each finished before the next is begun."""
    problem = Problem(jobs, walk)
    order = [visit for number in range(len(jobs)) for visit in problem.visits_of(number)]
    routes = [_told(problem, stands, order, proven=False) for stands in (COLD, WARM)]
    return min(routes, key=lambda route: route.objective)


def least_possible(jobs: Sequence[Job], walk: Sequence[str]) -> float:
    """Return an objective that no order can go below: hands-on minutes, opening each cover once, walking to
    each place once, and running the engine warm or letting it go cold. There may be no order so good."""
    problem = Problem(jobs, walk)
    return min(problem.rest(problem.begin(stands), problem.everything) for stands in (COLD, WARM)) / HALF


@lru_cache(maxsize=REMEMBERED)
def _solved(jobs: tuple[Job, ...], walk: tuple[str, ...]) -> Route:
    problem = Problem(jobs, walk)
    found = search(problem)
    proven = len(jobs) <= EXACT_UP_TO
    if proven:
        found = exact(problem, at_most=found.objective)
    return _told(problem, found.stands, found.visits, proven=proven)


def _told(problem: Problem, stands: str, order: Sequence[int], *, proven: bool) -> Route:
    """Return the order as visits with their times, and the covers to open and to shut."""
    states: list[State] = [problem.begin(stands)]
    for visit in order:
        after = problem.step(states[-1], visit)
        if after is None:
            raise ValueError("This order breaks a rule.")
        states.append(after)
    visits = []
    for number, visit in enumerate(order):
        before, after = states[number], states[number + 1]
        job = problem.jobs[visit >> 1]
        needs, warm_up = set(job.opens), after.warm_till > before.warm_till
        is_open = set() if warm_up else problem.covers_in(before.is_open)
        later: set[str] = set()
        if number + 1 < len(order) and states[number + 2].warm_till == after.warm_till:
            later = set(problem.jobs[order[number + 1] >> 1].opens)
        if after.waiting >= 0:
            later |= set(problem.jobs[after.waiting].opens)
        ends, starts = after.time, after.time - problem.minutes[visit]
        handling = (after.effort - before.effort) + (WARM_UP * HALF if warm_up else 0)
        visits.append(
            Visit(
                job,
                Part.WHOLE if not job.wait else Part.FINISH if visit & 1 else Part.BEGIN,
                starts / HALF,
                ends / HALF,
                (starts - before.time - handling) / HALF,
                warm_up,
                tuple(cover for cover in job.opens if cover not in is_open),
                tuple(sorted((problem.covers_in(after.is_open) | needs) - later)),
            )
        )
    engines = {job.engine for job in problem.jobs}
    return Route(
        tuple(visits),
        stands if engines & {WARM, COLD} else ANY,
        states[-1].time / HALF,
        states[-1].walked / HALF,
        (states[-1].effort - states[-1].walked) / HALF,
        proven,
    )
