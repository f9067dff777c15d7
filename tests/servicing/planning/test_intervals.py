"""The rules by which one mark follows another.

Published: 14 CFR 91.409 (a) and (b), US, as quoted in FAA test guides; US NRC Generic Letter 89-14 on how far
an interval may be stretched; the wheel re-torque schedule of tractor makers' operator manuals. 91.409 is
an aviation rule used as a model, not law for farm machines. The rest are this project's own rules, stated in
servicing.planning.intervals.
"""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicing.planning.intervals import (
    Anchor,
    Mark,
    Rule,
    add_months,
    choose,
    first_mark,
    last_in_time,
    next_mark,
)

DAY = date(2026, 3, 1)


def hours(value):
    return None if value is None else Decimal(str(value))


def next_hours(rule, due, done):
    mark = next_mark(rule, Mark(hours(due)), hours(done), DAY)
    return mark.hours


def next_on(rule, due, done):
    return next_mark(rule, Mark(on=due), Decimal(0), done).on


def was_on_time(rule, due, done_hours, done_on):
    limit = last_in_time(due, rule.late_allowance_hours, to_month_end=rule.to_month_end)
    return limit.is_kept(done_hours, done_on)


HUNDRED_HOURS = Rule(every_hours=Decimal(100), late_allowance_hours=Decimal(10))


@pytest.mark.parametrize(
    ("due", "done", "following", "on_time"),
    [
        (3302.5, 3309.5, 3402.5, True),  # FAA written-test item: 3302.5 + 100
        (None, 1259.6, 1359.6, True),  # FAA written-test item: the first inspection counts from itself
        (1000, 1004, 1100, True),  # "4 hours over ... included in the next 100" (oral-test question)
        (1000, 1010, 1100, True),  # the 10 hours of the rule, to the limit
        (1000, 1010.1, 1100, False),  # a tenth beyond them
        (1000, 996, 1096, True),  # "within the preceding 100 hours": early work earns no credit (a reading)
    ],
)
def test_100_hour_inspection_of_14_cfr_91_409_b(due, done, following, on_time):
    """Text: the excess time "must be included in computing the next 100 hours of time in service"."""
    assert next_hours(HUNDRED_HOURS, due, done) == hours(following)
    assert was_on_time(HUNDRED_HOURS, Mark(hours(due)), hours(done), DAY) is on_time


@pytest.mark.parametrize("anchor", Anchor)
def test_annual_inspection_of_14_cfr_91_409_a(anchor):
    """Signed 15 Mar 2012, "within the preceding 12 calendar months": good to the end of Mar 2013."""
    annual = Rule(every_months=12, to_month_end=True, anchor=anchor)
    first = next_mark(annual, Mark(), Decimal(0), date(2012, 3, 15))
    assert first == Mark(on=date(2013, 4, 1))
    assert was_on_time(annual, first, Decimal(0), date(2013, 3, 31))
    assert not was_on_time(annual, first, Decimal(0), date(2013, 4, 1))


def test_month_end_does_not_slip_from_year_to_year():
    fixed = Rule(every_months=12, to_month_end=True)
    assert next_on(fixed, date(2013, 4, 1), date(2013, 4, 20)) == date(2014, 4, 1)
    assert next_on(fixed, date(2013, 4, 1), date(2013, 3, 20)) == date(2014, 4, 1)
    assert next_on(fixed, date(2013, 4, 1), date(2013, 2, 10)) == date(2014, 3, 1)


def test_wheel_bolts_of_a_new_tractor():
    """Makers' operator manuals: torque after 3 hours, 10 hours, daily in the first week, then every 250.

    Daily in the first week is no interval of hours or months, so these rules don't hold it.
    """
    rules = [
        Rule(first_hours=Decimal(3), once=True),
        Rule(first_hours=Decimal(10), once=True),
        Rule(every_hours=Decimal(250)),
    ]
    marks = [first_mark(rule, in_service_on=DAY) for rule in rules]
    assert [mark.hours for mark in marks] == [3, 10, 250]
    assert next_mark(rules[0], marks[0], Decimal(3), DAY) is None
    assert next_hours(rules[2], 250, 251) == 500


@pytest.mark.parametrize(("done", "kept"), [(125, True), (125.1, False)])
def test_quarter_of_the_interval_as_allowance_of_nrc_gl_89_14(done, kept):
    """A surveillance interval may be stretched by up to 25 %: of 100 h, 125 is within it and 125.1 not."""
    rule = Rule(every_hours=Decimal(100), late_allowance_hours=Decimal(25))
    assert was_on_time(rule, Mark(Decimal(100)), hours(done), DAY) is kept


def test_fixed_marks_hold_three_intervals_to_less_than_3_25_of_nrc_gl_89_14():
    """Each 25 % late, from the work, 3 intervals make 375 h; on a fixed schedule never above 325 h."""
    ends = {}
    for anchor in Anchor:
        rule = Rule(every_hours=Decimal(100), late_allowance_hours=Decimal(25), anchor=anchor)
        due = first_mark(rule, in_service_on=DAY)
        for _ in range(3):
            done = due.hours + 25
            due = next_mark(rule, due, done, DAY)
        ends[anchor] = done
    assert ends == {Anchor.MARKS: 325, Anchor.DONE: 375}


@pytest.mark.parametrize(("done", "kept"), [(225, True), (224.9, False), (275, True), (275.1, False)])
def test_ten_per_cent_either_side(done, kept):
    """Trade articles' "10 % rule" in its wider reading: a 250-hour task is done from 225 to 275 h."""
    rule = Rule(every_hours=Decimal(250), early_window_hours=Decimal(25), late_allowance_hours=Decimal(25))
    if done < 250:
        assert (next_hours(rule, 250, done) == 500) is kept
    else:
        assert was_on_time(rule, Mark(Decimal(250)), hours(done), DAY) is kept


RUN_IN = Rule(first_hours=Decimal(50), every_hours=Decimal(100))


def test_running_in_first_then_whole_periods():
    """First after 50 hours, then every 100: 50, 100, 200. Common practice for new engines, no source."""
    mark, seen = first_mark(RUN_IN, in_service_on=DAY), []
    for _ in range(4):
        seen.append(mark.hours)
        mark = next_mark(RUN_IN, mark, mark.hours, DAY)
    assert seen == [50, 100, 200, 300]


@pytest.mark.parametrize(
    ("due", "done", "following"),
    [
        (50, 50, 100),
        (50, 62, 100),
        (50, 100, 200),
        (50, 130, 200),
        (50, 30, 100),  # early, no credit: 130 would be later than the line of marks allows
        (100, 104, 200),
        (100, 340, 400),  # far late never yields a mark that is already past
        (100, 200, 300),
        (100, 60, 160),
        (160, 160, 260),  # and the line runs on from there
    ],
)
def test_marks_after_running_in(due, done, following):
    assert next_hours(RUN_IN, due, done) == following


@pytest.mark.parametrize(
    ("due", "done", "following"),
    [
        (100, 90, 200),  # at the edge of the window: meets the mark
        (100, 89.9, 189.9),
        (100, 100, 200),
        (100, 189, 200),
        (100, 190, 300),  # ninety late is ten early for the next mark, which it meets too
        (100, 195, 300),
    ],
)
def test_early_window_keeps_the_marks(due, done, following):
    rule = Rule(every_hours=Decimal(100), early_window_hours=Decimal(10))
    assert next_hours(rule, due, done) == hours(following)


@pytest.mark.parametrize("done", [80, 100, 137.5])
def test_anchor_done_counts_from_the_work(done):
    rule = Rule(first_hours=Decimal(10), every_hours=Decimal(25), every_months=3, anchor=Anchor.DONE)
    mark = next_mark(rule, Mark(Decimal(100), date(2026, 5, 1)), hours(done), date(2026, 5, 31))
    assert mark == Mark(hours(done) + 25, date(2026, 8, 31))


@pytest.mark.parametrize(
    ("due", "done", "following"),
    [
        (date(2026, 3, 15), date(2026, 3, 15), date(2026, 6, 15)),
        (date(2026, 3, 15), date(2026, 4, 2), date(2026, 6, 15)),
        (date(2026, 3, 15), date(2026, 6, 15), date(2026, 9, 15)),
        (date(2026, 3, 15), date(2027, 1, 1), date(2027, 3, 15)),
        (date(2026, 3, 15), date(2026, 3, 14), date(2026, 6, 14)),
    ],
)
def test_months_from_the_due_date_or_from_earlier_work(due, done, following):
    assert next_on(Rule(every_months=3), due, done) == following


def test_hours_and_months_go_on_each_by_its_own():
    rule = Rule(first_hours=Decimal(50), every_hours=Decimal(200), every_months=12)
    first = first_mark(rule, in_service_on=DAY)
    assert first == Mark(Decimal(50), date(2027, 3, 1))
    # the year came first: 35 h run, so the hours start over at the work, no later than the line of marks
    assert next_mark(rule, first, Decimal(35), date(2027, 3, 1)) == Mark(Decimal(200), date(2028, 3, 1))


def test_only_the_first_time_by_hours_then_by_months():
    rule = Rule(first_hours=Decimal(50), every_months=12)
    assert next_mark(rule, Mark(Decimal(50), date(2027, 3, 1)), Decimal(51), date(2026, 5, 1)) == Mark(
        None, date(2027, 5, 1)
    )


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        (Rule(every_hours=Decimal(100)), 3300),
        (Rule(first_hours=Decimal(50), every_hours=Decimal(100)), 3300),
        (Rule(every_hours=Decimal(5000)), 5000),
        (Rule(first_hours=Decimal(4000), every_hours=Decimal(500)), 4000),
    ],
)
def test_a_machine_bought_used_begins_at_the_first_mark_ahead(rule, expected):
    assert first_mark(rule, in_service_on=DAY, hours_at_start=Decimal(3240)).hours == expected


def test_a_mark_just_reached_at_the_start_belongs_to_the_time_before():
    rule = Rule(every_hours=Decimal(100))
    assert first_mark(rule, in_service_on=DAY, hours_at_start=Decimal(300)).hours == 400


@pytest.mark.parametrize(
    "rule",
    [Rule(first_hours=Decimal(50), once=True), Rule(first_hours=Decimal(50), first_months=99, once=True)],
)
def test_running_in_that_a_used_machine_has_outrun_is_not_due(rule):
    assert first_mark(rule, in_service_on=DAY, hours_at_start=Decimal(50)) is None
    assert first_mark(rule, in_service_on=DAY, hours_at_start=Decimal("49.9")).hours == 50


def test_dates_before_the_machine_came_under_the_program_are_not_due():
    rule = Rule(every_months=12)
    assert first_mark(rule, in_service_on=date(2020, 2, 29)).on == date(2021, 2, 28)
    assert first_mark(rule, in_service_on=date(2020, 5, 2), from_on=DAY).on == date(2026, 5, 2)
    once = Rule(first_months=1, once=True)
    assert first_mark(once, in_service_on=date(2020, 5, 2), from_on=DAY) is None


@pytest.mark.parametrize(
    ("condition", "expected"), [("normal", "n"), ("dust", "d"), ("wet", "n"), ("heavy", "n")]
)
def test_condition_chooses_its_rule_else_the_normal_one(condition, expected):
    assert choose({"normal": "n", "dust": "d"}, condition) == expected


def test_a_task_only_for_dust_is_not_due_elsewhere():
    assert choose({"dust": "d"}, "wet") is None


@pytest.mark.parametrize(("every", "daily"), [(5, True), (10, True), (10.1, False), (None, False)])
def test_ten_hours_or_less_is_the_daily_round(every, daily):
    """Common practice, no source: makers' tables begin with "10 hours or daily"."""
    assert Rule(every_hours=hours(every), every_months=1).is_daily is daily


@pytest.mark.parametrize(
    "wrong",
    [
        {},
        {"every_hours": Decimal(0)},
        {"first_months": -1, "once": True},
        {"first_hours": Decimal(50)},
        {"every_hours": Decimal(50), "once": True},
        {"every_hours": Decimal(50), "early_window_hours": Decimal(50)},
        {"every_hours": Decimal(50), "late_allowance_hours": Decimal(-1)},
        {"every_hours": Decimal(50), "anchor": "moon"},
    ],
)
def test_a_rule_that_cannot_be_followed_is_refused(wrong):
    with pytest.raises(ValueError, match=r"interval|task|window|anchor"):
        Rule(**wrong)


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2028, 1, 31), 1, date(2028, 2, 29)),
        (date(2028, 2, 29), 12, date(2029, 2, 28)),
        (date(2028, 2, 29), 48, date(2032, 2, 29)),
        (date(2100, 1, 30), 1, date(2100, 2, 28)),  # 2100 is no leap year
        (date(2026, 12, 31), 2, date(2027, 2, 28)),
    ],
)
def test_months_clip_at_the_month_end(day, months, expected):
    assert add_months(day, months) == expected


tenths = st.integers(0, 100_000).map(lambda n: Decimal(n) / 10)
periods = st.integers(1, 20_000).map(lambda n: Decimal(n) / 10)
dates = st.dates(date(1990, 1, 1), date(2080, 12, 31))


@st.composite
def rules(draw, **fixed):
    every_hours = draw(st.none() | periods)
    every_months = draw(st.integers(1, 60) if every_hours is None else st.none() | st.integers(1, 60))
    window = Decimal(0) if every_hours is None else every_hours * draw(st.integers(0, 9)) / 10
    values = {
        "first_hours": draw(st.none() | periods),
        "every_hours": every_hours,
        "first_months": draw(st.none() | st.integers(1, 60)),
        "every_months": every_months,
        "anchor": draw(st.sampled_from(Anchor)),
        "early_window_hours": window,
        "to_month_end": draw(st.booleans()),
    }
    return Rule(**values | fixed)


@given(rules(), tenths, dates, dates)
def test_the_first_mark_lies_ahead_of_the_start(rule, start, in_service_on, from_on):
    mark = first_mark(rule, in_service_on=in_service_on, hours_at_start=start, from_on=from_on)
    assert mark.hours is None or mark.hours > start
    assert mark.on is None or mark.on > max(in_service_on, from_on)


@given(rules(), st.none() | tenths, st.none() | dates, tenths, dates)
def test_the_next_mark_lies_ahead_of_the_work(rule, due_hours, due_on, done_hours, done_on):
    mark = next_mark(rule, Mark(due_hours, due_on), done_hours, done_on)
    assert (mark.hours is None) == (rule.every_hours is None)
    assert (mark.on is None) == (rule.every_months is None)
    assert mark.hours is None or mark.hours > done_hours
    assert mark.on is None or mark.on > done_on


@given(rules(), tenths, dates, tenths, st.integers(0, 4000))
def test_work_on_time_or_late_moves_beyond_the_mark_it_met(rule, due_hours, due_on, late_hours, late_days):
    due = Mark(due_hours, due_on)
    mark = next_mark(rule, due, due_hours + late_hours, due_on + timedelta(days=late_days))
    assert mark.hours is None or mark.hours > due.hours
    assert mark.on is None or mark.on > due.on


@given(rules(), st.none() | tenths, st.none() | dates, tenths, dates)
def test_the_next_mark_is_never_more_than_a_period_and_the_window_away(
    rule, due_hours, due_on, done_hours, done_on
):
    mark = next_mark(rule, Mark(due_hours, due_on), done_hours, done_on)
    if mark.hours is not None:
        assert mark.hours <= done_hours + rule.early_window_hours + rule.every_hours
    if mark.on is not None:
        a_month_more = 1 if rule.to_month_end else 0
        assert mark.on <= add_months(done_on, rule.every_months + a_month_more) + timedelta(days=3)


@given(rules(anchor=Anchor.MARKS, first_hours=None), st.integers(1, 200), tenths)
def test_late_work_stays_on_the_line_of_marks(rule, step, late):
    if rule.every_hours is None:
        return
    due = rule.every_hours * step
    mark = next_mark(rule, Mark(due), due + late, DAY)
    assert (mark.hours - due) % rule.every_hours == 0


@given(rules(), tenths, dates, st.integers(1, 30))
def test_work_done_at_each_mark_comes_round_once_a_period(rule, start, day, rounds):
    """Done at the very mark, hours go on by whole periods (after the first) and dates by whole months."""
    mark = first_mark(rule, in_service_on=day, hours_at_start=start)
    for _ in range(rounds):
        if mark is None:
            return
        done_hours = start if mark.hours is None else mark.hours
        done_on = day if mark.on is None else mark.on
        after = next_mark(rule, mark, done_hours, done_on)
        if mark.hours is not None and after.hours is not None and mark.hours != rule.first_hours:
            assert after.hours - mark.hours == rule.every_hours
        mark, day = after, done_on


@given(dates, st.integers(0, 600))
def test_months_land_in_the_right_month_on_the_day_or_its_last(day, months):
    later = add_months(day, months)
    assert (later.year * 12 + later.month) - (day.year * 12 + day.month) == months
    assert later.day == day.day or (later + timedelta(days=1)).day == 1
    assert later.day <= day.day
