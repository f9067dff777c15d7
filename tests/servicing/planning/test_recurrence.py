"""Marks that follow a mark, counted by hand beside each case."""

from datetime import date
from decimal import Decimal as D

import pytest

from servicing.planning.intervals import Mark, Rule
from servicing.planning.recurrence import MOST, marks_after

TODAY = date(2026, 1, 1)
YEAR = date(2027, 1, 1)  # 365 days on


def after(rule, due, *, hours=0, pace=None, until=YEAR):
    return list(marks_after(rule, due, hours=D(hours), on=TODAY, pace=pace, until=until))


def test_a_50_hour_task_on_a_machine_of_800_hours_a_year_comes_sixteen_times():
    """800 / 50 = 16: the first at 50 h, fifteen more to 800 h, and the one at 850 h lies beyond."""
    found = after(Rule(every_hours=D(50)), Mark(hours=D(50)), pace=D(800) / 365)
    assert [mark.hours for mark in found] == [D(50) * n for n in range(2, 18)]
    within = [mark for mark in found if mark.hours <= 800]
    assert 1 + len(within) == 16


def test_by_the_calendar_each_month_and_no_pace_is_needed():
    """From 15 January each month: eleven more by the end of the year, and the first beyond it."""
    found = after(Rule(every_months=1), Mark(on=date(2026, 1, 15)))
    assert [mark.on for mark in found] == [*(date(2026, n, 15) for n in range(2, 13)), date(2027, 1, 15)]


def test_whichever_comes_first_starts_both_anew():
    """1 h a day, every 100 h or 2 months, last done today at 0 h: March comes (59 days) before 100 h."""
    rule = Rule(every_hours=D(100), every_months=2, anchor="done")
    found = after(rule, Mark(hours=D(100), on=date(2026, 3, 1)), pace=D(1), until=date(2026, 6, 1))
    assert found == [
        Mark(D(159), date(2026, 5, 1)),  # done on 1 March at 59 h
        Mark(D(220), date(2026, 7, 1)),  # done on 1 May at 120 h
    ]


def test_what_is_past_is_done_at_once():
    """At 130 h, due at 100 h, every 50 h on the line of marks: next at 150 h, in 10 days at 2 h a day."""
    found = after(Rule(every_hours=D(50)), Mark(hours=D(100)), hours=130, pace=D(2), until=date(2026, 1, 12))
    assert found == [Mark(D(150)), Mark(D(200))]


def test_what_is_past_by_hours_is_done_today_by_the_calendar_too():
    """Done today, the year begins today."""
    rule = Rule(every_hours=D(100), every_months=12, anchor="done")
    found = after(rule, Mark(hours=D(100), on=date(2026, 6, 1)), hours=130, until=date(2026, 6, 1))
    assert found == [Mark(D(230), date(2027, 1, 1))]


def test_what_is_past_by_the_calendar_is_done_today():
    found = after(Rule(every_months=1, anchor="done"), Mark(on=date(2025, 12, 1)), until=date(2026, 1, 31))
    assert found == [Mark(None, date(2026, 2, 1))]


@pytest.mark.parametrize("pace", [None, D(0)])
def test_without_a_pace_hours_are_never_reached(pace):
    assert after(Rule(every_hours=D(50)), Mark(hours=D(50)), pace=pace) == []


def test_a_once_only_task_does_not_come_again():
    assert after(Rule(first_hours=D(50), once=True), Mark(hours=D(50)), pace=D(5)) == []


def test_the_day_itself_still_counts():
    """2 h a day: 50 h on the 25th day. One day less, and it isn't reached, so nothing follows."""
    for until, follows in ((date(2026, 1, 26), 1), (date(2026, 1, 25), 0)):
        assert len(after(Rule(every_hours=D(50)), Mark(hours=D(50)), pace=D(2), until=until)) == follows


def test_it_ends():
    assert len(after(Rule(every_hours=D(11)), Mark(hours=D(11)), pace=D(24))) == MOST
