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
    "mean": [0.937044169, 1.15395272, 0.958860384, 1.38150646],
    "variance": [0.0620725822, 0.120481698, 0.064238888, 0.15931205],
    "lump": [2.61960915, 2.95316145, 3.18547566, 3.46864607],
    "working": [0.984535061, 1.30700573, 0.994148837, 1.59359607],
    "borrowed": [0.612952103, 0.330682455, 0.633445862, 0.424466543],
    "kin": [4.0, 10.0, 4.0, 6.29411765],
    "last": [15968.0, 15968.0, 15970.0, 15965.9412],
    "settled": [0.972717337, 1.0674938, 0.98430823, 1.15499761],
    "settled_variance": [0.0104819821, 0.0234402949, 0.0104124431, 0.0226471845],
    "swing": [-0.00745680124, 0.0106243996, -0.00807092636, -0.00514957399],
    "swing_kept": [0.255724673, 0.240808517, 0.240131865, 0.217931703],
}
CROSSINGS = {
    0.5: [[0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0], [0.388159829, 0.0, 0.722809918, 0.63835606]],
    30.0: [
        [15.9465246, 11.7213043, 14.8299826, 10.8085724],
        [29.0070152, 22.9786568, 28.2813896, 21.9322554],
        [50.3377541, 42.4677974, 50.2233839, 40.8029157],
    ],
    80.0: [
        [53.0949018, 41.2010305, 51.0457399, 39.045573],
        [81.9818245, 66.6623049, 80.0302252, 63.0257853],
        [130.938537, 112.91479, 128.725521, 104.981623],
    ],
    250.0: [
        [179.675456, 141.576919, 175.06335, 135.65663],
        [261.67874, 215.786469, 255.52437, 202.483697],
        [405.430821, 357.076332, 395.274783, 324.222037],
    ],
}
CHANCES = {
    0.5: [0.999999993, 0.99999997, 0.999999977, 0.999998002],
    30.0: [0.954413862, 0.976650956, 0.953974851, 0.964645662],
    80.0: [0.179916009, 0.392051001, 0.206646901, 0.472659603],
    250.0: [2.94757874e-09, 4.69334001e-06, 1.38498152e-08, 0.00887329078],
}
RHYTHM_SHAPE = (3, 1932)
RHYTHM = [
    [0.19069841, 3.69680643, 0.390228111, 1.08859634, 3.21694365, 0.313490455],
    [0.152075343, 7.60376713, 0.296939404, 0.46327772, 7.60376713, 0.209962367],
    [0.522710269, 2.85940985, 1.10365224, 0.924369643, 2.48824507, 0.551922325],
]
ON_THE_CLOCK = [
    [14.8556435, 14.9305372, 18.7882606],
    [15.1544928, 63.0610362, 23.1194452],
    [15.3706408, 140.241724, 29.568631],
]
LEARNED = [-1.04421394, 0.242794994, 1.99129426]
MOVED = [
    [13.3103908, 33.6143768, 53.2415633],
    [22.4680862, 56.741438, 89.8723448],
    [36.5517614, 92.3086855, 146.207045],
]
SCORES = {
    "ours": [311.0, 7.52057815, -2.94195379, 2.47619672, 0.823151125, 23.4068455],
    "lifetime rate": [311.0, 8.31811522, -1.42720611, 2.86012883, 0.794212219, 24.0408449],
    "last 30 days": [311.0, 9.95765482, -1.41015086, 3.33063964, 0.797427653, 30.4798123],
    "last 90 days": [311.0, 8.61149365, -1.57383108, 2.95497235, 0.794212219, 25.4262146],
    "since last service": [311.0, 10.6994929, -4.23326979, 3.69803325, 0.797427653, 39.769735],
}
GIVEN = 0.531010954


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
