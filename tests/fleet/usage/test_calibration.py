import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.usage import calibration
from fleet.usage.crossing import Crossing


def drawn(n, spread, shift=0.0, seed=1):
    """Projections of 20 / 30 / 45 days and log-normal outcomes ``spread`` times as wide as they say."""
    projected = Crossing(*(np.full(n, q) for q in (20.0, 30.0, 45.0)))
    place = np.random.default_rng(seed).standard_normal(n) * spread + shift
    return projected, 30.0 * np.exp(np.log(1.5) * place / calibration.NORMAL[2])


def coverage(projected, days):
    return np.mean((days >= projected.early) & (days <= projected.late))


def test_what_is_honest_stays():
    projected, days = drawn(2000, 1.0)
    assert calibration.learn(projected, days, elapsed=400.0) == pytest.approx(calibration.NONE, abs=0.08)


def test_an_interval_too_narrow_is_widened_to_its_80_percent():
    projected, days = drawn(2000, 1.6)
    correction = calibration.learn(projected, days, elapsed=400.0)
    fresh, outcome = drawn(2000, 1.6, seed=2)
    assert coverage(fresh, outcome) < 0.65
    assert coverage(calibration.correct(fresh, correction), outcome) == pytest.approx(0.8, abs=0.04)


def test_a_likely_day_always_too_early_is_moved():
    projected, days = drawn(2000, 1.0, shift=0.7)
    corrected = calibration.correct(projected, calibration.learn(projected, days, elapsed=400.0))
    assert np.mean(days > corrected.likely) == pytest.approx(0.5, abs=0.04)


def test_few_outcomes_move_little_and_none_nothing():
    few = calibration.learn(*drawn(10, 2.0), elapsed=400.0)
    assert abs(few.late - calibration.NONE.late) < 0.2
    assert calibration.learn(*drawn(0, 1.0), elapsed=400.0) == calibration.NONE
    assert calibration.learn(*drawn(50, 2.0), elapsed=30.0) == calibration.NONE  # late has not come yet


def test_a_mark_never_reached_counts_as_late():
    projected, days = drawn(2000, 1.0)
    days[:800] = np.inf
    assert calibration.learn(projected, days, elapsed=400.0).late > 2.0


def test_what_came_at_once_came_within_half_a_day():
    projected = Crossing(*(np.full(3, q) for q in (0.2, 3.0, 9.0)))
    placed = calibration.places(projected, [0.0, 0.5, 3.0])
    assert placed[0] == placed[1] == pytest.approx(calibration.NORMAL[0])
    assert placed[2] == 0


def test_endless_and_today_stay():
    ahead = Crossing(np.array([0.0, 900.0]), np.array([0.0, np.inf]), np.array([3.0, np.inf]))
    corrected = calibration.correct(ahead, calibration.Correction(-2.0, 0.3, 2.0))
    assert np.array_equal(np.array(corrected), np.array(ahead))


@settings(deadline=None)
@given(
    st.lists(st.floats(-4, 4), min_size=3, max_size=3),
    st.lists(st.floats(0, 1500), min_size=3, max_size=3),
)
def test_order_is_kept(place, days):
    ahead = Crossing(*(np.array([q]) for q in sorted(days)))
    corrected = calibration.correct(ahead, calibration.Correction(*sorted(place)))
    assert not np.isnan(corrected).any()
    assert corrected.early <= corrected.likely <= corrected.late
