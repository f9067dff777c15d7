"""The order of work against every order there is, and against the rules it says it keeps.

The brute force shares nothing with the solver but the constants of the rules: it lays all orders of all
visits side by side in arrays and walks through them at once.
"""

from dataclasses import replace
from functools import cache
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from servicing.planning.route import (
    COOLING,
    COVER,
    KEEPS_WARM,
    WALK,
    WARM_UP,
    Job,
    Part,
    best,
    in_order_of,
    least_possible,
)

WALK_ROUND = ("seat", "front", "left", "rear", "right")
COVERS = ("bonnet", "panel", "grille")


# ---------------------------------------------------------------------------------- brute force
@cache
def orders(jobs: int, waiting: int) -> np.ndarray:
    """All orders of visits, one a row. The first `waiting` jobs have two, the later one `jobs` higher."""
    second = [jobs + number for number in range(waiting)]
    if waiting == 0:
        return np.array(list(permutations(range(jobs))), dtype=np.int8).reshape(-1, jobs)
    fewer = orders(jobs, waiting - 1)
    new, first = second[-1], waiting - 1
    places = np.argmax(fewer == first, axis=1)
    rows = []
    for at in range(1, fewer.shape[1] + 1):
        fits = fewer[places < at]
        rows.append(np.insert(fits, at, new, axis=1))
    return np.concatenate(rows)


def least(jobs: list[Job]) -> float:
    """Elapsed, walking and opening minutes of the best of all orders, by trying each."""
    jobs = sorted(jobs, key=lambda job: not job.wait)
    count, waits = len(jobs), sum(bool(job.wait) for job in jobs)
    table = orders(count, waits)
    part = np.array([job.minutes / (2 if job.wait else 1) for job in jobs])
    wait = np.array([job.wait for job in jobs])
    place = np.array([WALK_ROUND.index(job.place) if job.place in WALK_ROUND else -1 for job in jobs])
    covers = np.array([sum(1 << COVERS.index(cover) for cover in job.opens) for job in jobs])
    warm, cold = (np.array([job.engine == engine for job in jobs]) for engine in ("warm", "cold"))
    runs = np.array([job.runs for job in jobs]) | warm
    heats, blocks = runs & ~cold, runs | (wait > 0)
    bits = np.array([bin(number).count("1") for number in range(8)])
    smallest = np.inf
    for is_warm in (False, True):
        time = np.zeros(len(table))
        effort = np.zeros(len(table))
        here = np.full(len(table), -1)
        opened = np.zeros(len(table), dtype=int)
        waiting = np.full(len(table), -1)
        ready = np.zeros(len(table))
        cold_at = np.full(len(table), COOLING if is_warm else 0.0)
        warm_till = np.full(len(table), KEEPS_WARM if is_warm else -1.0)
        forbidden = np.zeros(len(table), dtype=bool)
        for column in table.T:
            finish = column >= count
            job = np.where(finish, column - count, column).astype(int)
            forbidden |= np.where(finish, waiting != job, (waiting >= 0) & blocks[job])
            apart = np.abs(here - place[job])
            steps = np.where((here < 0) | (place[job] < 0), 0, np.minimum(apart, len(WALK_ROUND) - apart))
            spent = WALK * steps + COVER * bits[covers[job] & ~opened]
            time, effort = time + spent, effort + spent
            time = np.where(finish, np.maximum(time, ready), time)
            time = np.where(~finish & cold[job], np.maximum(time, cold_at), time)
            again = ~finish & warm[job] & (time > warm_till)
            time = time + WARM_UP * again
            warm_till = np.where(again, time + KEEPS_WARM, warm_till)
            time = time + part[job]
            cold_at = np.where(heats[job], time + COOLING, cold_at)
            begins = ~finish & (wait[job] > 0)
            waiting = np.where(begins, job, np.where(finish, -1, waiting))
            ready = np.where(begins, time + wait[job], ready)
            opened = covers[job] | np.where(waiting >= 0, covers[waiting], 0)
            here = np.where(place[job] >= 0, place[job], here)
        smallest = min(smallest, float(np.where(forbidden, np.inf, time + effort).min()))
    return smallest


def jobs_of(most: int, waits: int, least: int = 1):
    """Lists of `least` to `most` jobs, of which at most the first `waits` that would wait do."""
    job = st.builds(
        Job,
        id=st.just(0),
        engine=st.sampled_from(["warm", "any", "any", "cold"]),
        place=st.sampled_from([*WALK_ROUND, "", "roof"]),
        opens=st.lists(st.sampled_from(COVERS), unique=True, max_size=2).map(tuple),
        minutes=st.integers(0, 60),
        wait=st.sampled_from([0, 0, 5, 20, 45]),
        runs=st.booleans(),
    )
    return st.lists(job, min_size=least, max_size=most).map(lambda jobs: numbered(jobs, waits))


def numbered(jobs: list[Job], waits: int) -> list[Job]:
    made: list[Job] = []
    for number, job in enumerate(jobs):
        wait = job.wait if sum(bool(other.wait) for other in made) < waits else 0
        made.append(replace(job, id=100 + number, wait=wait))
    return made


@pytest.mark.parametrize(("size", "waits"), [(1, 1), (2, 2), (3, 3), (4, 4), (5, 4), (6, 3), (7, 2), (8, 1)])
@given(data=st.data())
@settings(max_examples=20, deadline=None)
def test_no_order_is_better(size, waits, data):
    jobs = data.draw(jobs_of(size, waits, least=size))
    route = best(jobs, WALK_ROUND)
    assert route.proven
    assert route.objective == least(jobs)


def test_the_brute_force_tries_every_order():
    # n jobs of which k come in two parts have (n + k)! / 2^k orders
    assert [len(orders(*case)) for case in ((3, 0), (3, 1), (3, 3), (8, 0), (7, 2))] == [
        6,
        12,
        90,
        40320,
        90720,
    ]
    assert len(np.unique(orders(4, 2), axis=0)) == len(orders(4, 2)) == 180


# ---------------------------------------------------------------------------------- the rules
@given(jobs_of(14, 14))
@settings(max_examples=40, deadline=None)
def test_every_route_keeps_the_rules(jobs):
    route = best(jobs, WALK_ROUND)
    done: dict[int, list[Part]] = {}
    is_open: set[str] = set()
    waiting, ready, now = None, 0.0, 0.0
    last_warm = 0.0 if route.stands == "warm" else None
    last_run = 0.0 if route.stands == "warm" else -np.inf
    for visit in route.visits:
        job = visit.job
        assert not is_open & set(visit.opens)
        assert is_open | set(visit.opens) >= set(job.opens)
        is_open = (is_open | set(visit.opens)) - set(visit.closes)
        assert visit.starts >= now
        assert visit.idle >= 0
        if visit.part is Part.FINISH:
            assert waiting == job.id
            assert visit.starts >= ready
            waiting = None
        else:
            assert waiting is None or not (job.wait or job.runs or job.engine == "warm")
            if job.engine == "cold" and last_warm is not None:
                assert visit.starts >= last_warm + COOLING
            if job.engine == "warm":
                last_run = visit.starts if visit.warm_up else last_run
                assert visit.starts <= last_run + KEEPS_WARM
        if job.engine == "warm" or (job.runs and job.engine == "any"):
            last_warm = visit.ends
        if visit.part is Part.BEGIN:
            waiting, ready = job.id, visit.ends + job.wait
            assert set(job.opens) <= is_open
        done.setdefault(job.id, []).append(visit.part)
        now = visit.ends
    assert is_open == set()
    assert waiting is None
    assert now == route.elapsed
    assert done == {job.id: [Part.BEGIN, Part.FINISH] if job.wait else [Part.WHOLE] for job in jobs}
    hands_on, warm_ups = sum(job.minutes for job in jobs), sum(visit.warm_up for visit in route.visits)
    assert route.elapsed == pytest.approx(
        hands_on + route.walking + route.opening + route.idle + WARM_UP * warm_ups
    )


@given(jobs_of(14, 14))
@settings(max_examples=30, deadline=None)
def test_it_is_never_worse_than_the_list_and_always_the_same(jobs):
    route = best(jobs, WALK_ROUND)
    assert route.objective <= in_order_of(jobs, WALK_ROUND).objective
    assert best(list(jobs), list(WALK_ROUND)) == route


def test_numbers_of_the_jobs_make_no_difference():
    jobs = [Job(7, "warm", "front", minutes=9), Job(3, "cold", "rear", minutes=5)]
    others = [Job(1, "warm", "front", minutes=9), Job(2, "cold", "rear", minutes=5)]
    assert [visit.job.id for visit in best(jobs, WALK_ROUND).visits] == [3, 7]
    assert [visit.job.id for visit in best(others, WALK_ROUND).visits] == [2, 1]


@given(jobs_of(8, 8))
@settings(max_examples=40, deadline=None)
def test_no_order_goes_below_what_is_called_the_least_possible(jobs):
    assert least_possible(jobs, WALK_ROUND) <= best(jobs, WALK_ROUND).objective


def test_work_without_ways_and_waits_can_take_no_less_than_its_minutes():
    jobs = [Job(1, "any", minutes=12), Job(2, "any", minutes=30), Job(3, "any", minutes=8)]
    assert least_possible(jobs, WALK_ROUND) == best(jobs, WALK_ROUND).objective == 50


def test_work_behind_a_cover_takes_no_less_than_its_minutes_and_the_cover():
    jobs = [Job(1, "any", "front", ("bonnet",), minutes=10)]
    assert least_possible(jobs, WALK_ROUND) == best(jobs, WALK_ROUND).objective > 10


# ---------------------------------------------------------------------------------- worked by hand
def told(route):
    return [(visit.job.id, visit.part.value, visit.starts, visit.ends) for visit in route.visits]


def test_cold_work_first_then_the_engine_is_run_warm():
    jobs = [Job(1, "warm", "front", minutes=10), Job(2, "cold", "front", minutes=20)]
    route = best(jobs, WALK_ROUND)
    assert told(route) == [(2, "whole", 0, 20), (1, "whole", 35, 45)]
    assert (route.stands, route.elapsed, [visit.warm_up for visit in route.visits]) == (
        "cold",
        45,
        [False, True],
    )


def test_a_machine_straight_from_work_where_there_is_enough_to_do_until_it_is_cold():
    jobs = [
        Job(1, "cold", "front", minutes=20),
        Job(2, minutes=COOLING, place="front"),
        Job(3, "warm", "front", minutes=10),
    ]
    route = best(jobs, WALK_ROUND)
    assert route.stands == "warm"
    assert told(route) == [(3, "whole", 0, 10), (2, "whole", 10, 190), (1, "whole", 190, 210)]


def test_other_work_is_done_while_oil_drains_and_the_cover_stays_open():
    drain = Job(1, "any", "front", ("bonnet",), 20, 15)
    route = best([drain, Job(2, place="left", minutes=10)], WALK_ROUND)
    # 2 to open, 10 to begin; a half minute there, 10, a half back; 4 of the 15 are left to wait; 10 to finish
    assert told(route) == [(1, "begin", 2, 12), (2, "whole", 12.5, 22.5), (1, "finish", 27, 37)]
    assert [(visit.opens, visit.closes, visit.idle) for visit in route.visits] == [
        (("bonnet",), (), 0),
        ((), (), 0),
        ((), ("bonnet",), 4),
    ]
    assert (route.elapsed, route.walking, route.opening, route.objective) == (37, 1, 2, 40)


@pytest.mark.parametrize("other", [{"runs": True}, {"engine": "warm"}, {"wait": 5}])
def test_nothing_that_may_start_the_engine_is_done_while_oil_is_out(other):
    drain = Job(1, "any", "front", minutes=20, wait=15)
    route = best([drain, Job(2, place="front", minutes=10, **other)], WALK_ROUND)
    numbers = [visit.job.id for visit in route.visits]
    assert numbers.index(1) + 1 == len(numbers) - 1 - numbers[::-1].index(1)


def test_cold_work_comes_before_work_that_may_run_the_engine():
    jobs = [Job(1, place="front", minutes=10, runs=True), Job(2, "cold", "front", minutes=20)]
    assert told(best(jobs, WALK_ROUND)) == [(2, "whole", 0, 20), (1, "whole", 20, 30)]


def test_a_cover_is_opened_once_for_all_work_behind_it():
    jobs = [
        Job(1, place="front", opens=("bonnet",), minutes=5),
        Job(2, place="left", minutes=5),
        Job(3, place="front", opens=("bonnet",), minutes=5),
    ]
    route = best(jobs, WALK_ROUND)
    assert [(visit.job.id, visit.opens, visit.closes) for visit in route.visits] == [
        (1, ("bonnet",), ()),
        (3, (), ("bonnet",)),
        (2, (), ()),
    ]


def test_the_walk_goes_the_shorter_way_round():
    # five places: from right over seat to front are two steps, the other way round are three
    jobs = [Job(1, place="right", minutes=1), Job(2, place="front", minutes=1)]
    assert best(jobs, WALK_ROUND).walking == 2 * WALK


def test_nothing_to_do_takes_no_time():
    assert best([], WALK_ROUND).objective == 0
    assert best([], []).visits == ()
