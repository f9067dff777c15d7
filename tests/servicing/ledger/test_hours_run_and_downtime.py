"""Hours between the month's edges, days down, and the edges themselves. Own numbers, worked by hand."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal as D
from zoneinfo import ZoneInfo

import pytest

from servicing.ledger.downtime import days_down
from servicing.ledger.hours_run import Point, Run, by_week, hours_at, pace, run
from servicing.ledger.period import Month

START, END = datetime(2026, 10, 1, tzinfo=UTC), datetime(2026, 11, 1, tzinfo=UTC)


def at(month, day, hour=0):
    return datetime(2026, month, day, hour, tzinfo=UTC)


def test_hours_are_spread_evenly_between_readings_round_the_edge():
    points = [
        Point(at(9, 29), D(100)),
        Point(at(10, 3), D(140)),
        Point(at(10, 30), D(200)),
        Point(at(11, 3), D(220)),
    ]
    assert run(points, START, END) == Run(D(120), D(210))
    assert run(points, START, END).hours == D("90.0")


def test_hours_nobody_read_are_not_counted():
    points = [Point(at(9, 29), D(100)), Point(at(10, 3), D(140))]
    assert run(points, START, END) == Run(D(120), D(140))
    assert run(points, at(11, 1), at(12, 1)).hours == 0


def test_first_reading_inside_the_month_starts_the_count():
    assert run([Point(at(10, 10), D(1204)), Point(at(10, 20), D(1224))], START, END).hours == D("20.0")


def test_no_reading_before_the_end_tells_nothing():
    assert run([], START, END) is None
    assert run([Point(at(11, 2), D(7))], START, END) is None


def test_reading_exactly_at_the_edge():
    assert hours_at([Point(START, D(5)), Point(at(10, 2), D(9))], START) == D(5)


def test_overlapping_spans_count_once_and_are_clipped():
    spans = [
        (at(9, 20), at(10, 3)),
        (at(10, 2), at(10, 5)),
        (at(10, 4, 12), at(10, 4, 18)),
        (at(10, 30), None),
    ]
    assert days_down(spans, START, END) == D("6.0")


def test_spans_outside_the_month_and_none_at_all():
    assert days_down([(at(8, 1), at(9, 1)), (at(11, 2), None)], START, END) == 0
    assert days_down([], START, END) == 0
    assert days_down([(START - timedelta(days=9), None)], START, END) == D("31.0")


def test_month_is_midnight_to_midnight_of_its_zone():
    """Madrid leaves summer time on 25 October 2026, so that October there has 745 hours."""
    start, end = Month(2026, 10).bounds(ZoneInfo("Europe/Madrid"))
    assert start == datetime(2026, 9, 30, 22, 0, tzinfo=UTC)
    assert end == datetime(2026, 10, 31, 23, 0, tzinfo=UTC)
    assert end - start == timedelta(hours=745)


def test_months_before_and_after():
    assert Month(2026, 1).plus(-1) == Month(2025, 12)
    assert Month(2026, 12).plus(1) == Month(2027, 1)
    assert Month(2028, 2).last_day == date(2028, 2, 29)
    assert Month.parse("2026-10") == Month(2026, 10)
    assert str(Month(2026, 3)) == "2026-03"


@pytest.mark.parametrize("text", ["", "2026", "2026-13", "0000-10", "october", "2026-10-01"])
def test_what_is_no_month(text):
    with pytest.raises(ValueError, match=r"month|year"):
        Month.parse(text)


def test_pace_is_hours_a_day_and_needs_two_weeks():
    points = [Point(at(10, 1), D(100)), Point(at(10, 21), D(150))]
    assert pace(points, START, at(10, 21)) == D("2.5")
    assert pace(points, at(10, 11), at(10, 25)) == D(25) / 14  # nothing read since the 21st
    assert pace(points, at(10, 11), at(10, 24)) is None
    assert pace([Point(at(10, 15), D(5))], START, at(10, 20)) is None
    assert pace([], START, END) is None


def test_weeks_are_cut_between_readings_and_the_one_that_runs_counts_up_to_the_last_reading():
    """Read every ten days at two hours a day, last on 30 October at noon; weeks end on 1 November."""
    points = [Point(at(9, 30, 12) + timedelta(days=10 * n), D(100 + 20 * n)) for n in range(4)]
    assert by_week(points, END, 4) == [D("14.0"), D("14.0"), D("14.0"), D("11.0")]


def test_a_week_of_which_less_than_half_is_covered_is_not_known():
    points = [Point(at(10, 7), D(9)), Point(at(10, 14), D(16)), Point(at(10, 27), D(29))]
    assert by_week(points, END, 5) == [None, D("4.0"), D("7.0"), D("7.0"), None]
    assert by_week([], END, 2) == by_week(points[:1], END, 2) == [None, None]


def test_a_meter_that_stands_still_runs_nothing():
    points = [Point(at(9, 1), D(50)), Point(END, D(50))]
    assert by_week(points, END, 3) == [0, 0, 0]
