"""The figures of the open excerpt, as they were when the tables of the benchmarks were written.

They say nothing of what is right: other tests do. Whoever moves one of them has moved a constant or a
formula, and measures again.
"""

import numpy as np
import pytest

from fleet.usage import backtest, calibration, crossing, history, pace, projector, rhythm
from tests.fleet.usage.fleets import excerpt

SOME = [0, 7, 33]  # machines whose figures stand below
DAY = 19_000.0
PACE = {
    "mean": [0.941130585, 1.14510444, 0.963445577, 1.37783805],
    "variance": [0.0612287348, 0.115922991, 0.0633786541, 0.156583309],
    "lump": [2.61960915, 2.95316145, 3.18547566, 3.46864607],
    "working": [0.984535061, 1.30700573, 0.994148837, 1.59359607],
    "borrowed": [0.622862438, 0.356201335, 0.643102248, 0.441025054],
    "kin": [4.0, 10.0, 4.0, 6.29411765],
    "last": [15968.0, 15968.0, 15970.0, 15965.9412],
    "settled": [0.9752309, 1.06262308, 0.987063653, 1.15352972],
    "settled_variance": [0.0100607366, 0.0223361698, 0.00999139171, 0.0220248305],
    "swing": [-0.00809958154, 0.0117973088, -0.00873259109, -0.00488007022],
    "swing_kept": [0.255724673, 0.240808517, 0.240131865, 0.217931703],
}
CROSSINGS = {
    0.5: [[0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0], [0.371111186, 0.0, 0.70251057, 0.633015204]],
    30.0: [
        [15.902465, 11.8669334, 14.7791936, 10.8471722],
        [28.8679527, 23.1783083, 28.1327698, 21.9536255],
        [49.9260091, 42.641214, 49.7963552, 40.6757165],
    ],
    80.0: [
        [52.9940058, 41.7139715, 50.9215025, 39.2169726],
        [81.5819671, 67.2432442, 79.6054921, 63.0978664],
        [129.706743, 113.278023, 127.471598, 104.564782],
    ],
    250.0: [
        [179.412854, 143.458644, 174.727474, 136.362089],
        [260.356534, 217.732594, 254.12426, 202.745702],
        [401.226288, 357.966582, 391.022497, 322.714624],
    ],
}
CHANCES = {
    0.5: [0.999999995, 0.999999974, 0.999999982, 0.999998249],
    30.0: [0.956535456, 0.976588964, 0.956126557, 0.965842744],
    80.0: [0.181999116, 0.382343883, 0.209408019, 0.469348341],
    250.0: [2.57285231e-09, 3.25952612e-06, 1.25092522e-08, 0.00841824462],
}
RHYTHM_SHAPE = (3, 1932)
RHYTHM = [
    [0.19069841, 3.69680643, 0.390228111, 1.08859634, 3.21694365, 0.313490455],
    [0.152075343, 7.60376713, 0.296939404, 0.46327772, 7.60376713, 0.209962367],
    [0.522710269, 2.85940985, 1.10365224, 0.924369643, 2.48824507, 0.551922325],
]
ON_THE_CLOCK = [
    [14.8551373, 14.9127221, 18.9040138],
    [15.1540062, 62.9133022, 23.2274863],
    [15.3703261, 139.786166, 29.6849327],
]
LEARNED = [-1.04421394, 0.242794994, 1.99129426]
MOVED = [
    [13.3103908, 33.6143768, 53.2415633],
    [22.4680862, 56.741438, 89.8723448],
    [36.5517614, 92.3086855, 146.207045],
]
SCORES = {
    "ours": [311.0, 7.51569763, -2.94848936, 2.47426179, 0.823151125, 23.3237979],
    "lifetime rate": [311.0, 8.31811522, -1.42720611, 2.86012883, 0.794212219, 24.0408449],
    "last 30 days": [311.0, 9.95765482, -1.41015086, 3.33063964, 0.797427653, 30.4798123],
    "last 90 days": [311.0, 8.61149365, -1.57383108, 2.95497235, 0.794212219, 25.4262146],
    "since last service": [311.0, 10.6994929, -4.23326979, 3.69803325, 0.797427653, 39.769735],
}
GIVEN = 0.530704969


def said(values):
    """The figures of some machines, and the mean of all."""
    return [*np.asarray(values, float)[SOME], float(np.mean(values))]


@pytest.fixture(scope="module")
def usage():
    types, readings, _ = excerpt()
    machine, day, hours = readings.T
    increments = history.increments(machine=machine.astype(int), day=day, hours=hours)
    firm = np.arange(len(types)) % 3 == 0
    return pace.estimate(increments, machine_type=types, as_of=day.max() - 100, organisation=firm)


@pytest.mark.parametrize(("name", "figures"), PACE.items())
def test_the_pace(usage, name, figures):
    assert said(getattr(usage, name)) == pytest.approx(figures, rel=1e-6)


@pytest.mark.parametrize(("hours", "figures"), CROSSINGS.items())
def test_the_days_until_a_mark(usage, hours, figures):
    everyone = np.arange(len(usage))
    ahead = crossing.first_passage(usage, machine=everyone, remaining=np.full(len(usage), hours), since=3.0)
    assert [said(quantile) for quantile in ahead] == [pytest.approx(row, rel=1e-6) for row in figures]
    chance = crossing.probability_before(
        usage, machine=everyone, remaining=np.full(len(usage), hours), days=60.0, since=3.0
    )
    assert said(chance) == pytest.approx(CHANCES[hours], rel=1e-6)


@pytest.fixture(scope="module")
def seasonal():
    """Three types for two years: some stand in winter, some run in July alone, some never rest."""
    weight = {
        0: lambda day: 1 + 0.8 * np.cos(2 * np.pi * (day / 365.25 - 0.5)),
        1: lambda day: (day % 365.25 // 30.4375 == 6) * 9.0,
        2: lambda day: np.ones_like(day),
    }
    kind = np.repeat([0, 1, 2], 9)
    day = DAY + np.arange(760)
    week = np.where((day + 3) % 7 >= 5, 0.3, 1.0)
    rows = []
    for number, of in enumerate(kind):
        hours = np.cumsum(weight[of](day) * week * (1.0 + 0.1 * number))
        rows += [(number, day[n], hours[n]) for n in range(number % 4, len(day), 4)]
    machine, at, run = np.array(rows).T
    increments = history.increments(machine=machine.astype(int), day=at, hours=run, machines=len(kind))
    return increments, kind, float(day[-1])


def test_the_rhythm(seasonal):
    increments, kind, now = seasonal
    clock = rhythm.learn(increments, kind=kind, now=now)
    assert clock.first == DAY - 1
    assert clock.worked.shape == RHYTHM_SHAPE
    weight = np.diff(clock.worked, axis=1)
    for of, figures in enumerate(RHYTHM):
        assert [weight[of].min(), weight[of].max(), *weight[of][[3, 100, 192, 400]]] == pytest.approx(
            figures, rel=1e-6
        )


def test_days_on_the_clock_of_a_rhythm(seasonal):
    increments, kind, now = seasonal
    used = projector.learn(increments, machine_type=kind, now=now)
    known = projector.ScheduledHours(
        np.array([0, 9]), np.array([5.0, 0.0]), np.array([20.0, 10.0]), np.array([8.0, 0.0])
    )
    ahead = used.crossings(
        machine=np.array([0, 9, 18]), remaining=np.array([90.0, 20.0, 60.0]), last=now - 2.0, known=known
    )
    assert [list(quantile) for quantile in ahead] == [pytest.approx(row, rel=1e-6) for row in ON_THE_CLOCK]


def test_what_earlier_projections_teach():
    late = np.linspace(30.0, 120.0, 60)
    projected = crossing.Crossing(0.4 * late, 0.7 * late, late)
    days = late * np.linspace(0.5, 1.3, 60)
    days[::9] = np.inf
    learned = calibration.learn(projected, days, elapsed=np.full(60, 110.0))
    assert list(learned) == pytest.approx(LEARNED, rel=1e-6)
    moved = calibration.correct(projected, learned)
    assert [quantile[[0, 30, 59]].tolist() for quantile in moved] == [
        pytest.approx(row, rel=1e-6) for row in MOVED
    ]


def test_the_score():
    types, readings, _ = excerpt()
    machine, day, hours = readings.T
    book = backtest.log_book(machine=machine.astype(int), day=day, hours=hours, types=types)
    cases = backtest.choose(book, every=50.0)
    forecast, given = backtest.ours(book, cases)
    rows = {"ours": forecast, **backtest.all_rules(book, cases)}
    found = {name: backtest.score(name, cases, row)[1:] for name, row in rows.items()}
    assert found == {name: pytest.approx(row, rel=1e-6) for name, row in SCORES.items()}
    assert np.nanmean(given) == pytest.approx(GIVEN, rel=1e-6)
