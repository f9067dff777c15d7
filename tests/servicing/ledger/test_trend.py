"""The trend of a measured value, against published certified values and an independent library."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from servicing.ledger.robust_line import least_squares, theil_sen
from servicing.ledger.trend import Point, look, runs

# NIST StRD, linear regression, data set Norris: ozone monitors against a NIST standard, 36 observations.
# Data from memory; that they give the certified values to 1e-9 shows them right.
Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
    0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
    0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
]  # fmt: skip
X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
    0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
    0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
]  # fmt: skip


def test_least_squares_gives_the_certified_values_of_norris():
    fit = least_squares(X, Y)
    assert len(X) == len(Y) == 36
    assert fit.slope == pytest.approx(1.00211681802045, rel=1e-9)
    assert fit.intercept == pytest.approx(-0.262323073774029, rel=1e-9)
    assert fit.slope_error == pytest.approx(0.429796848199937e-03, rel=1e-9)
    assert fit.intercept_error == pytest.approx(0.232818234301152, rel=1e-9)


values = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 12)), min_size=4, max_size=25).filter(
    lambda rows: len({x for x, _ in rows}) > 1
)  # few whole numbers: many ties


@given(values, st.sampled_from([0.8, 0.9, 0.95]))
def test_robust_slope_and_interval_agree_with_scipy(rows, sure):
    x, y = (np.array(column, float) for column in zip(*rows, strict=True))
    with np.errstate(invalid="ignore"):
        ours, theirs = theil_sen(x, y, sure=sure), stats.theilslopes(y, x, sure)
    assume(np.isfinite(theirs[2]))  # so many ties that the formula has no variance left
    assert (ours.slope, ours.low, ours.high) == pytest.approx(theirs[:1] + theirs[2:], abs=1e-12)
    assert ours.at(0) == pytest.approx(theirs[1], abs=1e-9)


def test_ties_without_end_leave_every_slope_possible():
    trend = theil_sen([0, 0, 0, 1], [0, 1, 2, 1])
    assert (trend.low, trend.high) == (-1, 1)


def test_ties_that_cancel_exactly_leave_every_slope_possible():
    """By Sen's equation 2.6 all pairs weigh 6006, those tied in x 2970 + 66, those tied in y 2970."""
    trend = theil_sen([0] * 11 + [1] * 3, [0] * 11 + [1, 2, 3])
    assert (trend.low, trend.slope, trend.high) == (1, 2, 3)


def test_robust_slope_of_norris_agrees_with_scipy():
    ours, theirs = theil_sen(X, Y), stats.theilslopes(Y, X, 0.9)
    assert (ours.slope, ours.low, ours.high) == pytest.approx(theirs[:1] + theirs[2:], rel=1e-12)
    assert ours.slope == pytest.approx(1.00211681802045, rel=2e-3), "clean data: near the certified slope"


def test_one_slip_of_the_gauge_moves_the_robust_slope_little():
    x = np.arange(10) * 100.0
    y = 7 + x * 0.001
    slipped = y.copy()
    slipped[-1] = 1.0
    assert theil_sen(x, slipped).slope == pytest.approx(0.001, rel=1e-6)
    assert least_squares(x, slipped).slope < 0


def test_the_interval_holds_the_slope_about_as_often_as_it_says():
    chance = np.random.default_rng(5)
    x, held = np.arange(12.0) * 50, 0
    for _ in range(600):
        trend = theil_sen(x, 8 + 0.002 * x + chance.normal(0, 0.2, len(x)))
        held += trend.low <= 0.002 <= trend.high
    assert 0.86 <= held / 600 <= 0.95


def line(*rows, lower=7.0, upper=9.0):
    return look([Point(*row) for row in rows], lower=lower, upper=upper)


def test_a_steady_rise_names_the_hours_of_the_upper_limit():
    # 7.2 mm at 100 h, 0.3 mm more every 100 h: 9 mm at 100 + 1.8 / 0.003 = 700 h
    found = line((100, 7.2), (200, 7.5), (300, 7.8), (400, 8.1))
    assert found.crossing.upper
    assert found.crossing.hours == pytest.approx(700)
    assert found.crossing.late == pytest.approx(700 + 0.05 / 0.003), (
        "half a tenth of a mm may be rounded away"
    )
    assert 500 < found.crossing.early < 650, "four values don't rule out that it speeds up"


def test_a_fall_names_the_lower_limit():
    # 12.9 V at 100 h, 0.1 V less every 100 h: 12.4 V at 600 h
    found = line((100, 12.9), (200, 12.8), (300, 12.7), (400, 12.6), lower=12.4, upper=None)
    assert not found.crossing.upper
    assert found.crossing.hours == pytest.approx(600)


def test_an_interval_surrounds_the_crossing():
    found = line((100, 7.2), (200, 7.6), (300, 7.7), (400, 8.1), (500, 8.3), (600, 8.7))
    assert 600 <= found.crossing.early < found.crossing.hours < found.crossing.late


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ([(100, 7.2), (200, 7.5), (300, 7.8)], "three values are too few"),
        ([(100, 7.2)] * 5, "all at one time"),
        ([], "never measured"),
    ],
)
def test_too_little_says_nothing(rows, why):
    found = line(*rows)
    assert (found.trend, found.fit, found.crossing) == (None, None, None), why


@pytest.mark.parametrize(
    "rows",
    [
        [(100, 8.0), (200, 8.1), (300, 7.9), (400, 8.0), (500, 8.1)],
        [(100, 8.0), (200, 8.0), (300, 8.0), (400, 8.0)],
    ],
    ids=["to and fro", "level"],
)
def test_no_sure_direction_names_no_crossing(rows):
    found = line(*rows)
    assert found.trend is not None
    assert found.crossing is None


def test_heading_for_no_limit_names_no_crossing():
    assert line((100, 8.8), (200, 8.5), (300, 8.2), (400, 7.9), lower=None).crossing is None


def test_an_adjustment_begins_a_new_run_with_the_value_it_was_left_at():
    points = [Point(100, 8.0), Point(200, 9.2, 8.0), Point(300, 8.4), Point(400, 8.8)]
    assert runs(points) == [((100, 8.0), (200, 9.2)), ((200, 8.0), (300, 8.4), (400, 8.8))]
    assert look(points, lower=7, upper=9).trend is None, "three since the adjustment"
    more = look([*points, Point(500, 8.9)], lower=7, upper=9)
    assert more.run == ((200, 8.0), (300, 8.4), (400, 8.8), (500, 8.9))
    assert more.trend.slope > 0.003, "what was found before the adjustment is left out"


def test_no_crossing_lies_before_the_last_value():
    found = line((100, 8.0), (200, 8.6), (300, 8.9), (400, 9.4), (500, 9.6))
    assert found.crossing.hours == found.crossing.early == found.crossing.late == 500


def test_a_crossing_beyond_a_machines_life_is_none():
    found = line((1000, 8), (2000, 8.0000001), (3000, 8.0000002), (4000, 8.0000003))
    assert found.moves
    assert (found.crossing, found.vague) == (None, None)
