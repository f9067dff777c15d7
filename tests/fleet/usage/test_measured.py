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
    "mean": [0.938039591, 1.15029467, 0.960097766, 1.38010553],
    "variance": [0.0615792843, 0.118917532, 0.0637085961, 0.157912916],
    "lump": [2.61960915, 2.95316145, 3.18547566, 3.46864607],
    "working": [0.984535061, 1.30700573, 0.994148837, 1.59359607],
    "borrowed": [0.617941135, 0.338944971, 0.638535594, 0.431749827],
    "kin": [4.0, 10.0, 4.0, 6.29411765],
    "last": [15968.0, 15968.0, 15970.0, 15965.9412],
    "settled": [0.973330137, 1.06548247, 0.985052481, 1.15451529],
    "settled_variance": [0.0102699199, 0.0230828007, 0.0101905134, 0.0223563513],
    "swing": [-0.00761350947, 0.011108745, -0.00824964471, -0.00504956499],
    "swing_kept": [0.255724673, 0.240808517, 0.240131865, 0.217931703],
}
CROSSINGS = {
    0.5: [[0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0], [0.383366158, 0.0, 0.716644508, 0.634706197]],
    30.0: [
        [15.9436076, 11.7770798, 14.8230093, 10.8227371],
        [28.9730199, 23.0607984, 28.2411323, 21.9327066],
        [50.1999679, 42.5613427, 50.0726868, 40.7231343],
    ],
    80.0: [
        [53.104422, 41.3940191, 51.0432566, 39.112444],
        [81.8840542, 66.9012373, 79.9151514, 63.0321849],
        [130.511064, 113.139248, 128.267014, 104.734442],
    ],
    250.0: [
        [179.74958, 142.278415, 175.102849, 135.940041],
        [261.355438, 216.586846, 255.145028, 202.515657],
        [403.939744, 357.721027, 393.685543, 323.354455],
    ],
}
CHANCES = {
    0.5: [0.999999994, 0.999999971, 0.999999979, 0.999998073],
    30.0: [0.955167253, 0.976521143, 0.954776937, 0.965254848],
    80.0: [0.180041921, 0.388172227, 0.207047481, 0.471619439],
    250.0: [2.68803982e-09, 4.13639361e-06, 1.28186892e-08, 0.00850177353],
}
RHYTHM_SHAPE = (3, 1932)
RHYTHM = [
    [0.19069841, 3.69680643, 0.390228111, 1.08859634, 3.21694365, 0.313490455],
    [0.152075343, 7.60376713, 0.296939404, 0.46327772, 7.60376713, 0.209962367],
    [0.522710269, 2.85940985, 1.10365224, 0.924369643, 2.48824507, 0.551922325],
]
ON_THE_CLOCK = [
    [14.8555258, 14.9246039, 18.8318295],
    [15.154312, 63.0096374, 23.1459143],
    [15.3704915, 140.029771, 29.5815719],
]
LEARNED = [-1.04421394, 0.242794994, 1.99129426]
MOVED = [
    [13.3103908, 33.6143768, 53.2415633],
    [22.4680862, 56.741438, 89.8723448],
    [36.5517614, 92.3086855, 146.207045],
]
SCORES = {
    "ours": [311.0, 7.5215752, -2.93270989, 2.47628754, 0.823151125, 23.3825827],
    "lifetime rate": [311.0, 8.31811522, -1.42720611, 2.86012883, 0.794212219, 24.0408449],
    "last 30 days": [311.0, 9.95765482, -1.41015086, 3.33063964, 0.797427653, 30.4798123],
    "last 90 days": [311.0, 8.61149365, -1.57383108, 2.95497235, 0.794212219, 25.4262146],
    "since last service": [311.0, 10.6994929, -4.23326979, 3.69803325, 0.797427653, 39.769735],
}
GIVEN = 0.530498931


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
