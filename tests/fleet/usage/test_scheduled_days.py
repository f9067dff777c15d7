"""Days whose hours are known: a hire, a job, a stay in the shop."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.usage import crossing, history, pace
from fleet.usage.scheduled_days import ScheduledHours, laid_out, layered
from tests.fleet.usage.fleets import steady

FLEET = pace.estimate(history.increments(**steady([2.0, 4.0])), machine_type=0, as_of=100.0)


def known(*periods):
    return ScheduledHours(*np.array(periods, float).reshape(-1, 4).T)


def likely(remaining, *periods, since=0.0):
    ahead = crossing.first_passage(
        FLEET, machine=[0], remaining=[remaining], since=since, known=known(*periods)
    )
    return float(ahead.likely[0])


def test_days_in_the_shop_put_the_mark_off():
    assert likely(60.0, (0, 5, 12, 0)) == pytest.approx(likely(60.0) + 7)


def test_what_comes_after_the_mark_changes_nothing():
    assert likely(60.0, (0, 100, 120, 12)) == pytest.approx(likely(60.0))
    assert likely(60.0, (1, 5, 12, 0)) == pytest.approx(likely(60.0))


def test_a_hire_that_runs_hard_reaches_the_mark_within_it():
    """Out from today for a fortnight at 8 h a day: 60 h are run after 7.5 days, whatever it did before."""
    ahead = crossing.first_passage(FLEET, machine=[0], remaining=[60.0], known=known((0, 0, 14, 8)))
    assert np.concatenate(ahead) == pytest.approx([7.5, 7.5, 7.5], abs=1e-6)


def test_a_hire_since_the_last_reading():
    """Read at check-out three days ago and out since: 24 of the 60 h are behind."""
    assert likely(60.0, (0, -3, 14, 8), since=3.0) == pytest.approx(4.5, abs=1e-6)


def test_hire_then_shop_then_the_guess_again():
    assert likely(60.0, (0, 0, 5, 8), (0, 5, 9, 0)) == pytest.approx(9 + likely(20.0))


def test_overlapping_periods_do_not_run_twice():
    starts, ends, rates = laid_out(known((0, 0, 5, 8), (0, 3, 9, 2), (1, 1, 2, 1)), 2)
    assert starts[0].tolist() == [0, 5]
    assert ends[0].tolist() == [5, 9]
    assert rates[0].tolist() == [8, 2]
    assert np.isinf(starts[1, 1])


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.just(0), st.floats(-20, 60), st.floats(-20, 90), st.floats(0, 24)), max_size=4),
    st.floats(0, 600),
    st.floats(0, 600),
    st.floats(0, 30),
)
def test_order_and_monotony_hold_with_known_days(periods, one, other, since):
    ahead = crossing.first_passage(
        FLEET,
        machine=[0, 0],
        remaining=[min(one, other), max(one, other)],
        since=since,
        known=known(*periods),
    )
    assert not np.isnan(ahead).any()
    for quantile in ahead:
        assert quantile[0] <= quantile[1] + 1e-6
    assert (ahead.early <= ahead.likely + 1e-6).all()
    assert (ahead.likely <= ahead.late + 1e-6).all()


def layer(*periods):
    """Periods as (machine, start, end, hours, rank)."""
    of, start, end, hours, rank = np.array(periods, float).reshape(-1, 5).T
    return [
        tuple(row) for row in np.transpose(layered(machine=of, start=start, end=end, hours=hours, rank=rank))
    ]


def test_of_two_at_once_the_lower_rank_holds():
    assert layer((0, 0, 10, 4, 1), (0, 3, 5, 0, 0)) == [(0, 0, 3, 4), (0, 3, 5, 0), (0, 5, 10, 4)]
    assert layer((0, 0, 10, 4, 0), (0, 3, 5, 0, 1)) == [(0, 0, 10, 4)]


def test_where_the_guess_is_to_hold_nothing_is_known():
    assert layer((0, 0, 10, 4, 1), (0, 3, 5, np.nan, 0)) == [(0, 0, 3, 4), (0, 5, 10, 4)]


def test_neighbours_of_equal_hours_are_one_but_not_across_machines():
    assert layer((0, 0, 2, 0, 1), (0, 2, 4, 0, 0), (1, 4, 6, 0, 0)) == [(0, 0, 4, 0), (1, 4, 6, 0)]
    assert layer((0, 0, 2, 0, 1), (0, 3, 4, 0, 1)) == [(0, 0, 2, 0), (0, 3, 4, 0)]
    assert layer() == []


@given(
    st.lists(
        st.tuples(
            st.integers(0, 2), st.integers(0, 12), st.integers(0, 12), st.integers(0, 3), st.integers(0, 2)
        ),
        max_size=8,
    )
)
def test_layers_say_of_every_day_what_the_lowest_rank_says(periods):
    table = np.full((3, 12), np.nan)
    for rank in (2, 1, 0):
        for of, start, end, hours, own in periods:
            if own == rank:
                table[of, start:end] = hours
    made = np.full((3, 12), np.nan)
    for of, start, end, hours in layer(*periods):
        assert np.isnan(made[int(of), int(start) : int(end)]).all()  # disjoint
        made[int(of), int(start) : int(end)] = hours
    assert np.array_equal(made, table, equal_nan=True)
