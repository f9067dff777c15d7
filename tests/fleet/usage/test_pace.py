import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.usage import crossing, history, pace
from tests.fleet.usage.fleets import excerpt, steady


def learn(readings, types=0, as_of=100.0, machines=None, **more):
    return pace.estimate(
        history.increments(**readings, machines=machines), machine_type=types, as_of=as_of, **more
    )


def whole(usage):
    """Every array of a pace is finite, apart from the day of a last reading that there never was."""
    return all(
        np.isfinite(getattr(usage, name)).all()
        for name in (
            "mean",
            "variance",
            "lump",
            "working",
            "borrowed",
            "kin",
            "settled",
            "settled_variance",
            "swing",
        )
    )


def test_a_steady_machine_with_a_year_behind_it_is_known():
    usage = learn(steady([3.0], days=365), as_of=365.0)
    assert usage.mean == pytest.approx([3.0], rel=0.05)
    assert usage.last.tolist() == [365.0]
    assert usage.kin.tolist() == [0]


def test_three_readings_lean_on_kin_and_two_years_do_not():
    """Ten kin run 1.2 to 3.2 h a day in jobs of 8 h; of two at 3 h a day one is known for 10 days only."""
    readings = steady([*np.linspace(1.2, 3.2, 10), 3.0, 3.0], days=730)
    readings["hours"] = np.floor(readings["hours"] / 8) * 8
    young = (readings["machine"] == 10) & (readings["day"] < 720)
    usage = learn({name: values[~young] for name, values in readings.items()}, as_of=730.0)
    assert usage.borrowed[10] > 1.1 * usage.borrowed[11]
    assert usage.variance[10] > 1.3 * usage.variance[11]
    assert abs(usage.mean[11] - 3.0) < 0.45
    assert usage.kin[10] == 11


def test_a_machine_without_readings_takes_after_its_type_and_is_less_sure():
    usage = learn(steady([1.0] * 8 + [5.0] * 8), types=[0] * 8 + [1] * 8 + [0, 1, 2], machines=19)
    assert usage.mean[16] < usage.mean[18] < usage.mean[17]
    assert usage.borrowed[16:].tolist() == [1, 1, 1]
    assert usage.kin[16:].tolist() == [8, 8, 0]
    assert np.isnan(usage.last[16:]).all()
    assert (usage.variance[16:18] > 3 * usage.variance[[0, 8]]).all()
    assert whole(usage)


def test_two_habits_of_one_type_are_not_averaged():
    """A newcomer seen at 4 h a day for a fortnight belongs with those at 4, not halfway to those at 1."""
    readings = steady([1.0] * 20 + [4.0] * 20 + [4.0])
    late = (readings["machine"] == 40) & (readings["day"] < 85)
    usage = learn({name: values[~late] for name, values in readings.items()})
    assert usage.mean[40] == pytest.approx(4.0, rel=0.12)


def test_organisations_know_nothing_of_each_other():
    both = steady([1.0] * 6 + [5.0] * 6)
    usage = learn(both, organisation=[1] * 6 + [2] * 6)
    alone = learn(steady([1.0] * 6))
    assert usage.mean[:6] == pytest.approx(alone.mean)
    assert usage.kin.tolist() == [5] * 12


def test_nothing_after_the_day_is_used():
    readings = steady([2.0, 2.0], days=100)
    changed = readings | {
        "hours": np.where(readings["day"] > 50, readings["day"] * 4 - 100, readings["hours"])
    }
    assert learn(readings, as_of=50.0).mean == pytest.approx(learn(changed, as_of=50.0).mean)
    each = learn(readings, as_of=np.array([50.0, 100.0]))
    assert each.last.tolist() == [50, 100]


def test_old_use_counts_less():
    readings = steady([1.0], days=400)
    busier = readings | {"hours": np.where(readings["day"] > 300, readings["day"] * 4 - 900, readings["day"])}
    lifetime = 700.0 / 400.0
    assert learn(busier, as_of=400.0).mean[0] > 1.8 * lifetime


@pytest.mark.parametrize(
    "readings",
    [
        {"machine": [], "day": [], "hours": []},
        {"machine": [0], "day": [3.0], "hours": [1200.0]},
        {"machine": [0] * 3, "day": [0.0, 200.0, 365.0], "hours": [50.0] * 3},  # an idle year
        {"machine": [0] * 5, "day": [0, 30, 30.01, 30.02, 30.03], "hours": [0, 0, 0.2, 0.3, 0.4]},  # a burst
        {"machine": [0] * 2, "day": [0.0, 100.0], "hours": [0.0, 2400.0]},  # round the clock
        {"machine": [0] * 4, "day": [0, 10, 20, 30], "hours": [900, 910, 2, 9]},  # a new meter
        {"machine": [0, 0, 1, 1], "day": [0, 9, 0, 9], "hours": [0, 9, 0, 90]},  # lone types
    ],
    ids=["none", "one", "idle", "burst", "clock", "meter", "lone"],
)
def test_odd_histories_get_an_answer(readings):
    usage = learn(readings, types=[0, 1], as_of=365.0, machines=2)
    assert whole(usage)
    ahead = crossing.first_passage(
        usage, machine=[0, 0, 1, 1], remaining=[50.0, 1e9, 50.0, -1.0], since=[0, 0, 9, np.nan]
    )
    assert not np.isnan(ahead).any()
    assert (ahead.early <= ahead.likely).all()
    assert (ahead.likely <= ahead.late).all()


def test_no_machines():
    assert len(learn({"machine": [], "day": [], "hours": []}, types=[])) == 0


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 4), st.floats(0, 400), st.floats(0, 9_000)), max_size=30),
    st.floats(-10, 800),
)
def test_any_history_gives_a_finite_pace(readings, as_of):
    table = np.array(readings, float).reshape(-1, 3)
    found = history.increments(
        machine=table[:, 0].astype(int), day=table[:, 1], hours=table[:, 2], machines=5
    )
    usage = pace.estimate(found, machine_type=[0, 0, 1, 1, 2], as_of=as_of, organisation=[0, 0, 0, 1, 1])
    assert whole(usage)
    assert (usage.mean > 0).all()
    assert (usage.variance > 0).all()
    assert ((usage.borrowed >= 0) & (usage.borrowed <= 1)).all()


def test_pooling_against_a_mixed_model():
    """A balanced case, one bell curve of levels: statsmodels' MixedLM (REML) gives the same levels.

    Forty machines, ten windows each; compared on the root of the rate, where the model is additive.
    """
    mixed = pytest.importorskip("statsmodels.api").MixedLM
    chance = np.random.default_rng(5)
    machines, windows, length, lump = 40, 10, 10.0, 3.0
    rate = (1.5 + 0.3 * chance.standard_normal(machines)) ** 2
    run = chance.gamma(rate[:, None] * length / lump, lump, (machines, windows))
    hours = np.concatenate([np.zeros((machines, 1)), run.cumsum(axis=1)], axis=1)
    day = np.broadcast_to(np.arange(windows + 1) * length, hours.shape)
    readings = {
        "machine": np.repeat(np.arange(machines), windows + 1),
        "day": day.ravel(),
        "hours": hours.ravel(),
    }
    flat = pace.HABITS._replace(  # no memory lost and no swing, so that both fit the same model
        settled_half_life=1e6, lump_half_life=1e6, swing=1e-3, lump_share=1.0, habit_width=0.03
    )
    usage = learn(readings, habits=flat)
    root = np.sqrt(run / length + 0.25 * lump / length).ravel()
    group = np.repeat(np.arange(machines), windows)
    fit = mixed(root, np.ones((len(root), 1)), groups=group).fit(reml=True)
    level = fit.fe_params[0] + np.array([fit.random_effects[i].iloc[0] for i in range(machines)])
    assert np.abs(usage.settled - level).mean() < 0.05
    assert np.corrcoef(usage.settled, level)[0, 1] > 0.98


def test_the_excerpt_is_projected_as_well_as_it_says():
    """34 machines of the open dataset in data/: better than the lifetime rate, interval near its 80 %."""
    metrics = pytest.importorskip("sklearn.metrics")
    types, readings, cases = excerpt()
    found = history.increments(machine=readings[:, 0].astype(int), day=readings[:, 1], hours=readings[:, 2])
    cases = cases[~np.isnan(cases[:, 3])]
    ahead = np.zeros((len(cases), 3))
    lifetime = np.zeros(len(cases))
    for i, (machine, origin, remaining, _) in enumerate(cases):
        usage = pace.estimate(found, machine_type=types, as_of=origin)
        ahead[i] = np.concatenate(
            crossing.first_passage(usage, machine=[int(machine)], remaining=[remaining])
        )
        own = readings[(readings[:, 0] == machine) & (readings[:, 1] <= origin)]
        lifetime[i] = remaining * (own[-1, 1] - own[0, 1]) / (own[-1, 2] - own[0, 2])
    actual = cases[:, 3]
    pinball = [metrics.mean_pinball_loss(actual, ahead[:, i], alpha=p) for i, p in enumerate((0.1, 0.5, 0.9))]
    inside = np.mean((actual >= ahead[:, 0]) & (actual <= ahead[:, 2]))
    assert np.abs(ahead[:, 1] - actual).mean() < 0.97 * np.abs(lifetime - actual).mean()
    assert np.mean(pinball) < 4.6
    assert 0.70 < inside < 0.90


def test_a_swing_leads_no_machine_beyond_24_hours_a_day():
    """Idle for a year, then day and night for a fortnight."""
    day = np.arange(0.0, 380.0, 1.0)
    hours = np.cumsum(np.where(day > 365, 24.0, 0.05))
    found = history.increments(machine=np.zeros(len(day), int), day=day, hours=hours)
    habits = pace.HABITS._replace(swing=4.0, swing_kept=1.0)
    usage = pace.estimate(found, machine_type=0, as_of=379.0, habits=habits)
    assert float(usage.settled[0] + usage.swing[0]) <= pace.GRID[-1] + 1e-9
    assert float(usage.mean[0]) <= 24.02


def test_the_hours_of_a_working_day_are_known_from_half_a_day():
    found = history.increments(machine=[0, 0], day=[0.0, 0.5], hours=[100.0, 104.0])
    assert float(pace.estimate(found, machine_type=0, as_of=0.5).working[0]) == pytest.approx(8.0)
