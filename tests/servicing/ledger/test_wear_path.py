"""Paths that speed up: their arithmetic, how a shape is chosen, and when nothing can be told."""

from math import exp, inf, log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicing.ledger import held_back, trend
from servicing.ledger.trend import Point, look
from servicing.ledger.wear_path import SHAPES, STRAIGHT, Bent, Shape, lay


def whole(way, count=10, upto=0.8, life=1000.0, noise=0.0, seed=1):
    """A run of `count` values that goes from 1 to 1.8 in `life` hours."""
    chance = np.random.default_rng(seed)
    at = np.linspace(0, upto, count)
    return tuple((float(t * life), float(1 + 0.8 * way(t) + chance.normal(0, noise))) for t in at)


def told(run, *, lower=None, upper=1.8, kin=()):
    return look([Point(*row) for row in run], lower=lower, upper=upper, kin=kin)


def square(t):
    return t**2


def steady(t):
    return t


@given(
    st.sampled_from(SHAPES),
    st.lists(st.floats(0.2, 5.0), min_size=2, max_size=6),
    st.lists(st.floats(0.0, 5000.0), min_size=2, max_size=6),
)
def test_bending_is_undone_and_keeps_the_order(shape, values, hours):
    found, since = np.sort(values), np.sort(hours)
    assert shape.unbent_values(shape.bent_values(found)) == pytest.approx(found, rel=1e-6)
    assert [shape.unbent_hours(each) for each in shape.bent_hours(since)] == pytest.approx(since.tolist())
    assert (np.diff(shape.bent_values(found)) >= 0).all()


def test_growth_by_1_is_the_exponential_path():
    """Doubled every 100 h: from 1 it is 8 at 300 h, and 32 at 500 h."""
    path = lay(Shape("growth", 1.0), ((0.0, 1.0), (100.0, 2.0), (200.0, 4.0), (300.0, 8.0)), sure=0.8)
    assert path.at(500) == pytest.approx(32)
    assert path.reaches(32) == pytest.approx(500)


def test_growth_runs_as_the_law_of_crack_growth_is_solved_by_hand():
    """da/dt = C a**2 from 1: 1/a = 1 - C t (Paris and Erdogan's form); with C = 0.001, a is 2 at 500 h."""
    run = tuple((t, 1 / (1 - 0.001 * t)) for t in (0.0, 100.0, 200.0, 300.0, 400.0))
    path = lay(Shape("growth", 2.0), run, sure=0.8)
    assert path.at(500) == pytest.approx(2)
    assert path.reaches(4) == pytest.approx(750)
    assert path.at(1100) == inf, "it has run off at 1000 h"
    assert path.reaches(-1) == inf


def test_a_power_path_counts_from_the_first_value_of_its_run():
    path = lay(Shape("power", 2.0), ((700.0, 5.0), (800.0, 6.0), (900.0, 9.0), (1000.0, 14.0)), sure=0.8)
    assert path.at(1100) == pytest.approx(21)
    assert path.reaches(21) == pytest.approx(1100)


@given(st.lists(st.floats(0.5, 9.0), min_size=4, max_size=9))
def test_all_lines_at_once_are_those_laid_one_by_one(values):
    run = tuple((100.0 * n, value) for n, value in enumerate(values))
    bent = Bent(run)
    for shape in bent.shapes:
        one, other = bent.path(shape, len(run)), lay(shape, run, sure=0.8)
        assert one.line.slope == pytest.approx(other.line.slope, abs=1e-12)
        assert one.line.value == pytest.approx(other.line.value, abs=1e-9)


def test_what_is_not_above_0_cannot_grow_by_its_own_power():
    assert {shape.kind for shape in Bent(((0.0, -1.0), (1.0, 0.0), (2.0, 1.0))).shapes} == {
        "straight",
        "power",
    }
    assert not Shape("growth", 2.0).suits([1.0, 2.0], rising=False)


def test_held_back_values_find_the_shape_that_made_them():
    off = held_back.values_off(whole(square, count=12))
    assert SHAPES[off.index(min(off))] == Shape("power", 2.0)
    assert min(off) == pytest.approx(0, abs=1e-9)
    assert off[0] > 0.1, "the straight line"


@pytest.mark.parametrize(
    ("run", "why"),
    [
        (whole(square, count=4), "nothing to hold back"),
        (tuple((100.0 * n, 1.0) for n in range(8)), "it doesn't move"),
        (((5.0, 1.0),) * 6, "all at one time"),
    ],
)
def test_some_runs_teach_nothing(run, why):
    assert held_back.values_off(run) is None, why


def test_hours_left_are_foretold_late_by_a_straight_line_on_a_square():
    """From half of the way's hours, t**2 from 0 to 1: the line is far late, the square is right."""
    run = whole(square, count=11, upto=1.0)
    straight, right = held_back.hours_off(run, STRAIGHT), held_back.hours_off(run, Shape("power", 2.0))
    assert all(miss.off > log(1.5) for miss in straight)
    assert [miss.off for miss in right] == pytest.approx([0] * len(right), abs=1e-6)
    assert [miss.share for miss in right] == sorted(miss.share for miss in right)


def test_hours_are_wrong_by_a_factor_of_eight_at_most():
    sudden = tuple((100.0 * n, float(value)) for n, value in enumerate([1] * 5 + [2, 3, 4, 5, 6, 7]))
    off = [miss.off for miss in held_back.hours_off(sudden, STRAIGHT)]
    assert off[0] == max(off) == held_back.FAR_OFF, "from level values the end is never reached"


def test_kin_bring_the_bend_that_four_values_cannot_show():
    run = whole(square, count=4, upto=0.5)
    kin = [whole(square, life=800.0 + 100 * n, noise=0.004, seed=n) for n in range(8)]
    alone, among = told(run), told(run, kin=kin)
    assert (alone.kin, among.kin) == (0, 8)
    assert among.path.shape.kind != "straight"
    assert among.crossing.hours == pytest.approx(1000, rel=0.1)
    assert among.crossing.early <= 1000 <= among.crossing.late
    seen = alone.crossing or alone.vague
    assert seen.late - seen.early > among.crossing.late - among.crossing.early


def test_three_kin_are_too_few_for_an_interval():
    kin = [whole(steady, life=800.0 + 100 * n, noise=0.01, seed=n) for n in range(4)]
    run = whole(steady, count=6, upto=0.5, noise=0.01, seed=9)
    assert (told(run, kin=kin[:3]).kin, told(run, kin=kin).kin) == (0, 4)


def test_kin_that_move_the_other_way_or_not_at_all_do_not_count():
    falling = [whole(lambda t: -t, noise=0.01, seed=n) for n in range(5)]
    level = [whole(lambda t: 0 * t, noise=0.01, seed=n) for n in range(5)]
    run = whole(steady, count=6, upto=0.5)
    assert told(run, kin=[*falling, *level]) == told(run)


def test_own_values_that_bend_plainly_overrule_straight_kin():
    kin = [whole(steady, life=800.0 + 50 * n, noise=0.01, seed=n) for n in range(8)]
    run = whole(square, count=12, upto=0.8, noise=0.004)
    found = told(run, kin=kin)
    assert found.path.shape.kind != "straight"
    assert found.kin == 0, "what was learned on straight runs doesn't hold here"
    assert found.crossing.hours == pytest.approx(1000, rel=0.06)


def test_a_fall_speeds_up_too():
    run = tuple((hours, 2.8 - value) for hours, value in whole(square, count=12))
    found = told(run, lower=1.0, upper=None)
    assert not found.crossing.upper
    assert found.crossing.hours == pytest.approx(1000, rel=0.02)


def test_halves_say_how_it_speeds_up():
    """t**2 has gone half its way at the root of a half of its hours: 565.7 of 800."""
    halves = told(whole(square, count=12)).halves
    assert halves.first == pytest.approx(800 * 0.5**0.5, rel=0.01)
    assert halves.second == pytest.approx(800 * (1 - 0.5**0.5), rel=0.02)
    assert told(whole(steady)).halves is None


def test_an_interval_too_wide_to_be_of_use_is_not_told_as_a_crossing():
    run = ((0.0, 1.0), (100.0, 1.02), (200.0, 1.01), (300.0, 1.1), (400.0, 1.05), (500.0, 1.13))
    found = told(run, upper=9.0)
    assert found.moves
    assert found.crossing is None
    assert found.vague.early < found.vague.hours < found.vague.late
    assert found.vague.has_end


def test_kin_foretold_without_end_leave_the_interval_without_end():
    jumps = [
        tuple(
            (100.0 * n, value + 0.001 * k)
            for n, value in enumerate([1, 1.01, 1.02, 1.03, 1.04, 1.05, 9.0, 9.1])
        )
        for k in range(6)
    ]
    found = told(((0.0, 1.0), (100.0, 1.01), (200.0, 1.02), (300.0, 1.03)), upper=9.0, kin=jumps)
    assert found.crossing is None or found.crossing.late < inf
    if found.vague:
        assert found.vague.early <= found.vague.hours <= found.vague.late


@given(
    st.lists(st.sampled_from([0.0, 0.0, 1.0, 2.0, 5.0, 1e-3, 1e4, -3.0]), min_size=4, max_size=9),
    st.booleans(),
)
def test_no_values_break_it(values, falls):
    """Ties, zeros, leaps and values below 0: an interval holds its crossing, and none lies in the past."""
    run = tuple((100.0 * (n // 2), value) for n, value in enumerate(values))
    kin = [
        run,
        whole(square),
        whole(steady),
        tuple((hours, -value) for hours, value in run),
    ]
    found = told(run, lower=-9.0 if falls else 0.0, upper=9.0, kin=kin)
    seen = found.crossing or found.vague
    if seen:
        assert run[-1][0] <= seen.early <= seen.hours <= seen.late


def test_the_step_of_the_gauge_is_read_off_the_values():
    assert trend._step(((0.0, 7.2), (1.0, 7.25))) == pytest.approx(0.01)
    assert trend._step(((0.0, 7.0), (1.0, 9.0))) == 1
    assert trend._step(((0.0, exp(1)), (1.0, 9.0))) == 0
