"""Whose month a mark is, and the two forms of the share in print."""

from datetime import date
from decimal import Decimal as D

import pytest

from servicing.ledger.compliance import Compliance, Kept, Mark, add, count, judge
from servicing.ledger.hours_run import Run

OCTOBER = (date(2026, 10, 1), date(2026, 10, 31))
RUN = Run(D(200), D(300))


def kept(mark, run=RUN):
    return judge(mark, run, *OCTOBER)


def done(hours, day, *, mark=250, on=None, allowance=0):
    return Mark(mark and D(mark), on, D(allowance), D(hours), day)


def test_share_of_due_and_share_of_done():
    """50 due, 45 done, 40 in time (own numbers): 80.0 % in the form of NASA NPR 8831.2E App. G,
    88.9 % in the trade-press form that divides by completed orders."""
    month = Compliance(in_time=40, late=5, not_done=5)
    assert (month.due, month.done) == (50, 45)
    assert month.of_due == D("80.0")
    assert month.of_done == D("88.9")


def test_undefined_when_nothing_was_due():
    assert Compliance().of_due is None
    assert Compliance(carried_in=3, still_open=2).of_due is None
    assert Compliance(not_done=2).of_due == 0
    assert Compliance(not_done=2).of_done is None


@pytest.mark.parametrize(
    ("mark", "expected"),
    [
        (done(249, date(2026, 10, 9)), Kept.IN_TIME),
        (done(250, date(2026, 10, 9)), Kept.IN_TIME),
        (done("250.1", date(2026, 10, 9)), Kept.LATE),
        (Mark(D(250), None), Kept.NOT_DONE),
        (Mark(D(300), None), Kept.NOT_DONE),
        (Mark(D("300.1"), None), None),
        (Mark(D(200), None), Kept.STILL_OPEN),
        (done(205, date(2026, 10, 2), mark=190), Kept.CARRIED_IN),
        (done(305, date(2026, 10, 30), mark=310), Kept.IN_TIME),  # early: belongs to the month it was done in
        (done(195, date(2026, 9, 28)), None),  # done early in September: September's
        (done(310, date(2026, 11, 2)), Kept.NOT_DONE),  # done, but after the month had ended
    ],
)
def test_hour_marks(mark, expected):
    assert kept(mark) == expected


@pytest.mark.parametrize(
    ("mark", "expected"),
    [
        (Mark(None, date(2026, 10, 1)), Kept.NOT_DONE),
        (Mark(None, date(2026, 10, 31)), Kept.NOT_DONE),
        (Mark(None, date(2026, 11, 1)), None),
        (Mark(None, date(2026, 9, 30)), Kept.STILL_OPEN),
        (done(220, date(2026, 10, 31), mark=None, on=date(2026, 10, 31)), Kept.IN_TIME),
        (done(220, date(2026, 10, 31), mark=None, on=date(2026, 10, 30)), Kept.LATE),
        (done(220, date(2026, 10, 1), mark=None, on=date(2026, 9, 30)), Kept.CARRIED_IN),
        (done(220, date(2026, 9, 30), mark=None, on=date(2026, 9, 1)), None),
    ],
)
def test_dates_at_the_edges_of_the_month(mark, expected):
    assert kept(mark) == expected
    assert kept(mark, run=None) == expected


def test_hours_or_date_whichever_comes_first():
    assert kept(done(240, date(2026, 10, 20), on=date(2026, 10, 15))) == Kept.LATE
    assert kept(done(260, date(2026, 10, 10), on=date(2026, 10, 15))) == Kept.LATE
    assert kept(done(240, date(2026, 10, 10), on=date(2026, 10, 15))) == Kept.IN_TIME
    assert kept(Mark(D(900), date(2026, 10, 15))) == Kept.NOT_DONE


@pytest.mark.parametrize(
    ("due", "at", "in_tolerance"),
    [(1000, "1004", True), (1000, "1010", True), (1000, "1010.1", False), (1000, "996", True)],
)
def test_allowance_as_the_hundred_hour_rule_has_it(due, at, in_tolerance):
    """14 CFR 91.409(b): the 100-hour limitation may be exceeded by not more than 10 hours."""
    assert done(at, date(2026, 10, 9), mark=due, allowance=10).done_in_time is in_tolerance


def test_within_its_allowance_a_mark_is_not_yet_due():
    assert kept(Mark(D(295), None, D(10))) is None
    assert kept(Mark(D(295), None, D(5))) == Kept.NOT_DONE


@pytest.mark.parametrize(
    ("on", "done_on", "expected"),
    [
        (date(2026, 11, 1), date(2026, 10, 31), Kept.IN_TIME),
        (date(2026, 11, 1), date(2026, 11, 1), Kept.NOT_DONE),  # October's, and done in November
        (date(2026, 11, 1), None, Kept.NOT_DONE),
        (date(2026, 10, 1), date(2026, 10, 1), Kept.CARRIED_IN),  # September's
        (date(2026, 10, 1), None, Kept.STILL_OPEN),
        (date(2026, 12, 1), None, None),
    ],
)
def test_a_date_that_runs_to_the_end_of_a_month_is_that_months(on, done_on, expected):
    assert kept(Mark(None, on, done_on=done_on, to_month_end=True)) == expected


def test_without_readings_only_recorded_hours_tell():
    assert kept(Mark(D(250), None), run=None) is None
    assert kept(done(260, date(2026, 10, 9)), run=None) == Kept.LATE
    assert kept(done(260, date(2026, 9, 9)), run=None) is None


def test_counting():
    month = count([Kept.IN_TIME, None, Kept.LATE, Kept.CARRIED_IN, Kept.STILL_OPEN, Kept.NOT_DONE])
    assert month == Compliance(1, 1, 1, 1, 1)
    assert add([month, month, Compliance()]) == Compliance(2, 2, 2, 2, 2)
