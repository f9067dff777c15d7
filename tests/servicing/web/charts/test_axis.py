"""The axes that all charts share."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicing.web.charts import axis
from servicing.web.charts.axis import (
    Scale,
    Tick,
    apart,
    calendar_days,
    kept_inside,
    round_figures,
    round_step,
)


def test_a_scale_keeps_within_its_stretch_and_may_run_upwards():
    up = Scale(0, 10, 200, 100)
    assert [up(value) for value in (-5, 0, 2.5, 10, 11)] == [200, 200, 175, 100, 100]


def test_a_scale_of_one_value_has_one_place():
    assert [Scale(7, 7, 3, 97)(value) for value in (6, 7, 8)] == [3, 3, 3]


@pytest.mark.parametrize(
    ("low", "high", "written"),
    [
        (3898, 3986, ["3\u202f900", "3\u202f920", "3\u202f940", "3\u202f960", "3\u202f980"]),
        (0, 1, ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]),
        (99_990, 99_999, ["99\u202f990", "99\u202f992", "99\u202f994", "99\u202f996", "99\u202f998"]),
        (-3, 2, ["\u22123", "\u22122", "\u22121", "0", "1", "2"]),
        (0, 99_999, ["0", "20\u202f000", "40\u202f000", "60\u202f000", "80\u202f000"]),
        (0.31, 0.34, ["0.31", "0.32", "0.33", "0.34"]),
        (5, 5, ["5"]),
    ],
)
def test_figures_are_round_and_say_no_more_digits_than_their_step(low, high, written):
    assert [words for _, words in round_figures(low, high)] == written


@given(st.floats(0, 99_999), st.floats(0.01, 99_999), st.integers(2, 8))
def test_a_step_is_one_two_or_five_with_noughts_and_the_least_that_fits(low, reach, most):
    step = round_step(reach, most)
    leading = float(f"{step:e}".partition("e")[0])
    assert leading in (1, 2, 5)
    assert reach / step <= most + 1e-6
    smaller = step / (2.5 if leading == 5 else 2)
    assert reach / smaller > most - 1e-6
    figures = [figure for figure, _ in round_figures(low, low + reach, most)]
    assert len(figures) <= most + 1
    assert all(low - step * 1e-6 <= figure <= low + reach + step * 1e-6 for figure in figures)


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (0, ["2\xa0Mar"]),
        (3, ["2\xa0Mar", "3\xa0Mar", "4\xa0Mar", "5\xa0Mar"]),
        (6, ["2\xa0Mar", "4\xa0Mar", "6\xa0Mar", "8\xa0Mar"]),
        (20, ["2\xa0Mar", "9\xa0Mar", "16\xa0Mar"]),
        (45, ["2\xa0Mar", "16\xa0Mar", "30\xa0Mar", "13\xa0Apr"]),
        (100, ["Apr", "May", "Jun"]),
        (365, ["Apr", "Jul", "Oct", "Jan\xa02027"]),
        (730, ["Jul", "Jan\xa02027", "Jul", "Jan\xa02028"]),
        (1500, ["2027", "2028", "2029", "2030"]),
        (15_000, ["2030", "2035", "2040", "2045", "2050", "2055", "2060", "2065"]),
    ],
)
def test_days_are_named_at_one_step_of_the_calendar(days, words):
    """2 March 2026 is a Monday."""
    first = date(2026, 3, 2)
    assert [each.label for each in calendar_days(first, first + timedelta(days=days))] == words


@given(st.dates(date(1990, 1, 1), date(2090, 1, 1)), st.integers(1, 6000))
def test_the_days_named_lie_within_and_their_words_fit(first, reach):
    last = first + timedelta(days=reach)
    found = calendar_days(first, last)
    assert all(first <= each.day <= last for each in found)
    ticks = [Tick(100 * (each.day - first).days / reach, each.label) for each in found]
    shown = apart(ticks)
    for one, other in pairwise(shown):
        gap = (other.at - one.at) * axis.NARROW / 100
        assert gap >= (len(one.label) + len(other.label)) * axis.LETTER / 2


def test_words_that_would_meet_or_be_cut_are_left_out():
    ticks = [Tick(0, "1 Dec"), Tick(10, "3 Dec"), Tick(50, "12 Dec"), Tick(99, "a long label")]
    assert [tick.label for tick in apart(ticks)] == ["1 Dec", "12 Dec"]


@pytest.mark.parametrize(("at", "anchor"), [(0, "start"), (50, "middle"), (100, "end")])
def test_words_that_must_stand_are_moved_inside(at, anchor):
    assert kept_inside(at, "likely 14 Dec").anchor == anchor
