"""What is expected of the coming days follows from the quantiles themselves. Own numbers."""

from decimal import Decimal as D

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicing.ledger.outlook import Coming, Outlook, add, chance_by, expected_jobs, gap_days, outlook

DUTY = Coming(early=40, likely=60, late=100)


@pytest.mark.parametrize(("day", "chance"), [(20, 0), (40, 0.1), (60, 0.5), (80, 0.7), (100, 0.9), (140, 1)])
def test_chance_passes_through_the_quantiles(day, chance):
    assert chance_by(day, DUTY) == pytest.approx(chance)


def test_a_date_is_certain_from_its_day_on():
    dated = Coming(30, 30, 30)
    assert chance_by(29.9, dated) == 0
    assert chance_by(30, dated) == 1


def test_beyond_three_years():
    assert chance_by(60, Coming(None, None, None)) == 0
    assert 0.1 < chance_by(60, Coming(50, None, None)) < 0.11
    assert chance_by(1000, Coming(50, 80, None)) < 0.9


def test_what_is_past_is_certain():
    assert chance_by(60, Coming(None, None, None, overdue=True)) == 1
    assert chance_by(60, Coming(-9, -5, -1)) == 1


def test_repeats_follow_at_the_gap():
    assert expected_jobs(Coming(0, 0, 0, gap=20, overdue=True), 60) == 4  # today, 20, 40, 60
    assert expected_jobs(Coming(10, 10, 10, gap=20), 60) == 3  # 10, 30, 50
    assert expected_jobs(Coming(10, 10, 10, gap=None), 60) == 1


@given(
    st.lists(st.floats(0, 900), min_size=3, max_size=3).map(sorted),
    st.floats(0, 1200),
    st.floats(0, 1200),
)
def test_chance_rises_with_the_days_and_stays_a_chance(quantiles, one, other):
    duty = Coming(*quantiles)
    sooner, later = sorted([one, other])
    assert 0 <= chance_by(sooner, duty) <= chance_by(later, duty) <= 1


def test_outlook_weighs_minutes_and_supplies_by_what_is_expected():
    half = Coming(40, 60, 100, minutes=30, supplies=D("15.00"))
    certain = Coming(None, None, None, overdue=True, minutes=20, supplies=D("4.50"))
    assert outlook([half, certain], 60) == Outlook(D("1.5"), 35, D("12"), 1)
    assert outlook([], 60) == Outlook()


def test_minutes_never_entered_are_none_and_counted():
    found = outlook([Coming(0, 0, 0), Coming(0, 0, 0, minutes=7)], 60)
    assert (found.jobs, found.minutes, found.untimed, found.unpriced, found.overdue) == (D("2.0"), 7, 1, 0, 0)
    assert (Outlook().minutes, Outlook().overdue) == (0, 0)


def test_what_is_past_falls_due_today_and_not_yesterday():
    assert [chance_by(day, Coming(None, None, None, overdue=True)) for day in (-1, 0)] == [0, 1]


def test_sum_over_machines_adds_what_is_printed():
    assert add([Outlook(D("1.5"), 35, D(12), 1), Outlook(D("0.2"), 4, D(3), 0)]) == Outlook(
        D("1.7"), 39, D(15), 1
    )


@pytest.mark.parametrize(
    ("every_hours", "every_months", "pace", "gap"),
    [
        (D(100), None, D("2.5"), 40),
        (D(100), None, None, None),
        (D(100), None, D(0), None),
        (None, 12, None, 365.25),
        (D(100), 1, D("2.5"), 365.25 / 12),
        (None, None, D(3), None),
    ],
)
def test_gap_between_two_due_days(every_hours, every_months, pace, gap):
    assert gap_days(every_hours, every_months, pace) == gap
