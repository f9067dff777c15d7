"""The guess at an organisation nobody knows yet: the usual levels, and what becomes of them elsewhere."""

import numpy as np
import pytest

from fleet.usage import backtest, history, levels, pace
from tests.fleet.usage.fleets import excerpt, steady

WIDE = pace.HABITS._replace(usual_chance=0.0, paced_chance=0.0)


def learn(readings, habits, machines=None, **more):
    found = history.increments(**readings, machines=machines)
    return pace.estimate(found, machine_type=0, as_of=readings["day"].max(), habits=habits, **more)


def test_the_guesses_are_shares_and_their_chances_too():
    each, chance = levels.guesses(pace.HABITS)
    assert each.shape == (len(levels.FACTORS) + 2, len(levels.GRID))
    assert each.sum(axis=1) == pytest.approx(1.0)
    assert chance.sum() == pytest.approx(1.0)
    assert (each >= 0).all()
    usual, paced, wide = each[0], each[1:-1], each[-1]
    assert paced[len(levels.FACTORS) // 2] == pytest.approx(usual)  # as fast as usual
    own = (paced - pace.HABITS.strays * wide) / (1 - pace.HABITS.strays) @ levels.GRID
    assert own[2:9] / own[5] == pytest.approx(levels.FACTORS[2:9], rel=0.02)


def test_small_fleets_of_the_open_set_are_forecast_better_and_less_early():
    """The excerpt cut into fleets of about five. Its machines are among those that taught the usual levels:
    projection_score.py --fleets learns them on other machines."""
    types, readings, _ = excerpt()
    machine, day, hours = readings.T
    book = backtest.log_book(machine=machine.astype(int), day=day, hours=hours, types=types)
    cases = backtest.choose(book, every=50.0)
    fleet = np.arange(len(types)) % 7

    def scored(habits):
        forecast, _ = backtest.ours(book, cases, organisation=fleet, habits=habits)
        before = (backtest.outcome(cases, forecast[:, 1]) < forecast[:, 1]).mean()
        return backtest.pinball(cases, forecast).mean(), before

    (loss, before), (loss_wide, before_wide) = scored(pace.HABITS), scored(WIDE)
    assert loss < 0.98 * loss_wide
    assert abs(before - 0.5) < abs(before_wide - 0.5)


@pytest.mark.parametrize("rate", [0.2, 4.0, 8.0])
def test_a_farm_that_runs_otherwise_leaves_the_usual_levels_behind(rate):
    """Six machines two fifths apart at most, a year known: the wide prior alone says nearly the same."""
    readings = steady(rate * np.linspace(0.8, 1.2, 6), days=365)
    usual, wide = learn(readings, pace.HABITS), learn(readings, WIDE)
    assert usual.mean == pytest.approx(wide.mean, rel=0.08)


def test_an_organisation_is_not_judged_by_its_one_odd_machine():
    """Nine at the usual hour a day and one at 9 h: one that has been read for a fortnight is held usual."""
    readings = steady([1.0] * 9 + [9.0, 1.0])
    late = (readings["machine"] == 10) & (readings["day"] < 85)
    readings = {name: values[~late] for name, values in readings.items()}
    usual, wide = learn(readings, pace.HABITS), learn(readings, WIDE)
    assert usual.mean[10] == pytest.approx(1.0, rel=0.08)
    assert usual.mean[9] == pytest.approx(wide.mean[9], rel=0.03)


def test_no_machine_speaks_for_itself_twice():
    """Alone in its organisation it has the guess as its kin, before its own readings are looked at."""
    seen = np.array([2.0]), np.array([0.04])
    each, chance = levels.guesses(pace.HABITS)
    one, yes = np.zeros(1, np.int64), np.ones(1, bool)
    placed = levels.place(*seen, yes, yes, one, one, pace.HABITS)[0]
    by_hand = (chance @ each) * np.exp(-0.5 * (2.0 - levels.GRID) ** 2 / (0.04 + pace.HABITS.habit_width**2))
    assert placed == pytest.approx(by_hand / by_hand.sum(), abs=1e-6)


def test_the_usual_levels_are_learned_from_what_machines_run():
    readings = steady([1.0] * 40 + [4.0] * 20, days=200)
    found = history.increments(**readings)
    usual = np.array(pace.usual_levels(found, days=[150.0, 200.0]))
    assert usual.sum() == pytest.approx(10_000, abs=30)
    assert usual[np.abs(levels.GRID - 1.0) < 0.2].sum() == pytest.approx(5_800, abs=600)
    assert usual[np.abs(levels.GRID - 2.0) < 0.2].sum() == pytest.approx(3_000, abs=500)
    with pytest.raises(ValueError, match="day"):
        pace.usual_levels(found, days=[])
