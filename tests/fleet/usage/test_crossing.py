import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.usage import crossing, history, pace
from tests.fleet.usage.fleets import steady

RATES = [0.0, 0.02, 0.5, 2.0, 6.0, 23.0]


@pytest.fixture(scope="module")
def usage():
    return pace.estimate(history.increments(**steady(RATES)), machine_type=[0, 0, 0, 1, 1, 2], as_of=100.0)


FLEET = pace.estimate(history.increments(**steady(RATES)), machine_type=[0, 0, 0, 1, 1, 2], as_of=100.0)


def test_a_steady_machine_crosses_when_its_rate_says(usage):
    early, likely, late = crossing.first_passage(usage, machine=[3, 4], remaining=[60.0, 60.0])
    assert likely == pytest.approx([30.0, 10.0], rel=0.12)
    assert (early < likely).all()
    assert (likely < late).all()


def test_days_since_the_last_reading_have_passed(usage):
    now = crossing.first_passage(usage, machine=[3], remaining=[60.0])
    later = crossing.first_passage(usage, machine=[3], remaining=[60.0], since=4.0)
    assert later.likely == pytest.approx(now.likely - 4.0)
    assert crossing.first_passage(usage, machine=[3], remaining=[2.0], since=300.0).late == 0.0


def test_a_mark_passed_is_today(usage):
    for quantile in crossing.first_passage(usage, machine=[3, 0], remaining=[0.0, -30.0]):
        assert quantile.tolist() == [0, 0]
    for quantile in crossing.first_passage(usage, machine=[3], remaining=[-np.inf]):
        assert quantile.tolist() == [0]
    assert crossing.probability_before(usage, machine=[3], remaining=[-1.0], days=[0.0]) == 1.0


def test_a_mark_minutes_away_may_be_passed_as_soon_as_the_clock_allows(usage):
    ahead = crossing.first_passage(usage, machine=[0, 2], remaining=[0.02, 0.02])
    assert ahead.early == pytest.approx(0.02 / 24)


def test_in_ten_days_a_machine_runs_240_hours_at_most(usage):
    for hours, possible in ((240.1, False), (240.0, True)):
        chance = crossing.probability_before(usage, machine=[5], remaining=[hours], days=[10.0])
        assert bool(chance[0] > 0) is possible
        assert 0 <= chance[0] < 1


def test_what_lies_beyond_three_years_is_endless(usage):
    ahead = crossing.first_passage(usage, machine=[3, 0, 3], remaining=[20_000.0, 500.0, np.nan])
    assert ahead.likely.tolist() == [np.inf, np.inf, np.inf]


def test_no_machine_outruns_the_clock(usage):
    assert crossing.first_passage(usage, machine=[5], remaining=[240.0]).early >= 10.0


def test_probability_is_the_quantile_turned_round(usage):
    machine, remaining = np.array([2, 3, 4]), np.array([20.0, 60.0, 200.0])
    for p in (0.1, 0.37, 0.5, 0.9):
        days = crossing.quantile(usage, p, machine=machine, remaining=remaining, since=2.0)
        chance = crossing.probability_before(
            usage, machine=machine, remaining=remaining, days=days, since=2.0
        )
        assert chance == pytest.approx(p, abs=1e-9)


def test_the_earlier_of_hours_and_calendar():
    hours = crossing.Crossing(*(np.array([q, q, q, q]) for q in (20.0, 30.0, np.inf)))
    earlier = crossing.earlier_of(hours, [25.0, 10.0, np.inf, -3.0])
    assert np.transpose(earlier).tolist() == [[20, 25, 25], [10, 10, 10], [20, 30, np.inf], [0, 0, 0]]


def test_the_earlier_of_two_against_simulation(usage):
    """Quantiles of min(T, D) for a fixed day D, against 100,000 draws of T through its own quantiles."""
    p = np.random.default_rng(3).uniform(size=100_000)
    drawn = crossing.quantile(usage, p, machine=np.full(p.shape, 3), remaining=np.full(p.shape, 60.0))
    ahead = crossing.earlier_of(crossing.first_passage(usage, machine=[3], remaining=[60.0]), 31.0)
    expected = np.quantile(np.minimum(drawn, 31.0), [0.1, 0.5, 0.9])
    assert np.concatenate(ahead) == pytest.approx(expected, rel=0.02)


def test_an_empty_question(usage):
    assert crossing.first_passage(usage, machine=np.zeros(0, int), remaining=np.zeros(0)).likely.shape == (0,)


@settings(deadline=None)
@given(
    st.integers(0, len(RATES) - 1),
    st.floats(0, 1e5),
    st.floats(0, 1e5),
    st.floats(0, 400),
    st.floats(-2, 6),
    st.floats(0.01, 40),
)
def test_quantiles_grow_with_the_hours_to_go_and_keep_their_order(machine, one, other, since, swing, lump):
    """Also with swings and lumps far outside what the estimate gives."""
    level = FLEET.settled[machine]
    odd = dataclasses.replace(
        FLEET,
        swing=np.full(len(FLEET), np.clip(swing, -0.85 * level, 4.9 - level)),
        lump=np.full(len(FLEET), lump),
    )
    ahead = crossing.first_passage(
        odd, machine=[machine] * 2, remaining=[min(one, other), max(one, other)], since=since
    )
    assert not np.isnan(ahead).any()
    for quantile in ahead:
        assert quantile[0] <= quantile[1] * (1 + 1e-12)
    assert (ahead.early <= ahead.likely).all()
    assert (ahead.likely <= ahead.late).all()
