"""One reading against its neighbours. The rule of the clock is arithmetic; the tales of slips are ours."""

from datetime import UTC
from zoneinfo import ZoneInfo

import pytest

from fleet.usage.history import judge

MAY_3 = 20576.0  # 3 May 2026, days since 1970-01-01


def test_the_day_is_named_as_people_write_it():
    verdict = judge(hours=112.4, taken_at_day=MAY_3 + 3, before=(MAY_3, 1124.0))
    assert verdict.code == "slipped_digit"
    assert verdict.suggestion == 1124.0
    assert verdict.reason == (
        "112.4\u00a0h is less than the 1\u202f124.0\u00a0h read on 3 May 2026; did a digit slip? "
        "1\u202f124.0\u00a0h would fit."
    )


@pytest.mark.parametrize(
    ("hours", "code"),
    [
        (1124.0, "ok"),
        (1148.0, "ok"),
        (1148.1, "ok"),
        (1148.5, "too_fast"),
        (1123.9, "ok"),
        (1123.5, "backwards"),
    ],
)
def test_a_day_has_24_hours_and_a_meter_one_decimal(hours, code):
    verdict = judge(hours=hours, taken_at_day=MAY_3 + 1, before=(MAY_3, 1124.0))
    assert verdict.code == code
    assert verdict.counted == (code == "ok")


@pytest.mark.parametrize(
    ("hours", "meant"),
    [
        (11260.0, 1126.0),  # the point slipped
        (112.6, 1126.0),
        (2116.0, 1216.0),  # two digits swapped
        (126.0, 1126.0),  # a digit too few
        (11126.0, 1126.0),  # a digit too many
        (160.3, 1630.3),  # of all that fit, the one that two hours a day come nearest to
    ],
)
def test_one_slip_is_told_and_what_was_meant(hours, meant):
    days, shows = {1126.0: (2, 1124.0), 1216.0: (2, 1212.0), 1630.3: (5, 1619.3)}[meant]
    verdict = judge(hours=hours, taken_at_day=MAY_3 + days, before=(MAY_3, shows), pace=2.0)
    assert (verdict.code, verdict.suggestion) == ("slipped_digit", meant)


def test_a_tenfold_jump_after_a_long_gap_is_a_slip_though_the_clock_allows_it():
    verdict = judge(hours=11300.0, taken_at_day=MAY_3 + 500, before=(MAY_3, 1100.0))
    assert (verdict.code, verdict.suggestion) == ("slipped_digit", 1130.0)
    assert "10\u202f200.0\u00a0h more than the 1\u202f100.0\u00a0h read on 3 May 2026" in verdict.reason


def test_a_busy_season_is_not_a_slip():
    assert judge(hours=1400.0, taken_at_day=MAY_3 + 30, before=(MAY_3, 1124.0), pace=2.0).counted


@pytest.mark.parametrize(
    ("before", "days", "pace", "likely", "wild", "meant"),
    [
        (110.5, 10, None, 310.5, 310.6, 130.6),  # 20 h a day, where nothing is known of the machine
        (120.3, 10, 2.0, 280.3, 280.4, 208.4),  # eight times its pace
        (160.2, 20, 0.5, 280.2, 280.3, 208.3),  # but 6 h a day are believed of any
        (100.3, 3, 1.0, 150.2, 150.3, 105.3),  # and so are less than 50 h in one step
    ],
)
def test_from_where_a_step_is_far_more_than_the_machine_runs(before, days, pace, likely, wild, meant):
    known = {"taken_at_day": MAY_3 + days, "before": (MAY_3, before), "pace": pace}
    assert judge(hours=likely, **known).counted
    verdict = judge(hours=wild, **known)
    assert (verdict.code, verdict.suggestion) == ("slipped_digit", meant)


def test_a_late_entry_is_judged_against_what_came_after_too():
    assert judge(
        hours=1130.0, taken_at_day=MAY_3, before=(MAY_3 - 3, 1124.0), after=(MAY_3 + 3, 1136.0)
    ).counted
    above = judge(hours=1150.0, taken_at_day=MAY_3, before=(MAY_3 - 3, 1124.0), after=(MAY_3 + 3, 1136.0))
    assert above.code == "backwards"
    assert "is more than the 1\u202f136.0\u00a0h read later, on 6 May 2026" in above.reason
    below = judge(hours=600.0, taken_at_day=MAY_3, after=(MAY_3 + 1, 1100.0))
    assert below.code == "too_fast"
    assert "500.0\u00a0h less than the 1\u202f100.0\u00a0h read on 4 May 2026" in below.reason
    assert "with only 24.0\u00a0h between them" in below.reason


def test_a_first_reading_is_believed():
    assert judge(hours=8421.7, taken_at_day=MAY_3) == (True, "ok", "", None)


def test_below_zero_and_from_the_future():
    assert judge(hours=-0.1, taken_at_day=MAY_3).code == "negative"
    assert judge(hours=5.0, taken_at_day=MAY_3 + 1, now_day=MAY_3).code == "from_future"
    assert judge(hours=0.0, taken_at_day=MAY_3).counted
    for minutes, code in [(14.9, "ok"), (15.1, "from_future")]:  # how far a sender's clock may be ahead
        assert judge(hours=5.0, taken_at_day=MAY_3 + minutes / 1440, now_day=MAY_3).code == code
    early = judge(hours=5.0, taken_at_day=MAY_3 + 20 / 1440, now_day=MAY_3)
    assert (early.counted, "20\u00a0min after it came in" in early.reason) == (False, True)


def test_two_readings_of_one_moment():
    assert judge(hours=1124.1, taken_at_day=MAY_3, before=(MAY_3, 1124.0)).counted
    assert judge(hours=1126.0, taken_at_day=MAY_3, before=(MAY_3, 1124.0)).code == "too_fast"


def test_a_day_is_named_by_the_yards_clocks():
    before = (MAY_3 - 1 / 24, 9.0)  # 2 May, 23:00 UTC
    for zone, named in ((UTC, "2 May 2026"), (ZoneInfo("Pacific/Auckland"), "3 May 2026")):
        verdict = judge(hours=5.0, taken_at_day=MAY_3 + 1, before=before, zone=zone)
        assert verdict.reason.startswith(f"5.0\u00a0h is less than the 9.0\u00a0h read on {named}")


def test_of_two_readings_on_one_day_the_times_are_said():
    at, later = MAY_3 + (17 + 18 / 60) / 24, MAY_3 + (17 + 22 / 60) / 24
    zone = ZoneInfo("Europe/Dublin")
    after = judge(hours=506.6, taken_at_day=at, after=(later, 416.6), zone=zone)
    assert after.reason.startswith("506.6\u00a0h at 18:18 can't be right: 416.6\u00a0h was read at 18:22")
    before = judge(hours=416.6, taken_at_day=later, before=(at, 506.6), zone=zone)
    assert before.reason.startswith("416.6\u00a0h at 18:22 can't be right: 506.6\u00a0h was read at 18:18")
    same = judge(hours=416.6, taken_at_day=at, before=(at, 506.6))
    assert same.reason.startswith(
        "416.6\u00a0h at 17:18 can't be right: 506.6\u00a0h was read at the same time"
    )


@pytest.mark.parametrize("hours", [float("nan"), float("inf")])
def test_what_is_no_number_raises(hours):
    with pytest.raises(ValueError, match="finite"):
        judge(hours=hours, taken_at_day=MAY_3)


def test_what_lies_between_is_told_in_the_words_of_its_size():
    assert (
        "with only 20\u00a0min between them"
        in judge(hours=12.0, taken_at_day=MAY_3 + 20 / 1440, before=(MAY_3, 9.0)).reason
    )
    assert "but both at the same moment" in judge(hours=12.0, taken_at_day=MAY_3, before=(MAY_3, 9.0)).reason
    assert (
        "with only 9\u00a0days between them"
        in judge(hours=999.0, taken_at_day=MAY_3 + 9, before=(MAY_3, 9.0)).reason
    )


@pytest.mark.parametrize(
    ("before", "hours", "days", "code"),
    [
        (9990.0, 6.5, 5, "rolled_over"),  # 16.5 h on
        (99_980.0, 12.0, 7, "rolled_over"),
        (9990.0, 900.0, 5, "backwards"),  # 910 h in 5 days: no
        (9990.0, 999.2, 5, "slipped_digit"),  # 9992 meant
        (4800.0, 6.5, 5, "backwards"),  # no meter begins again at 4800
    ],
)
def test_a_meter_that_passed_its_last_figure(before, hours, days, code):
    verdict = judge(hours=hours, taken_at_day=MAY_3 + days, before=(MAY_3, before), pace=4.0)
    assert (verdict.code, verdict.counted) == (code, False)
    if code == "rolled_over":
        assert "begin at zero again?" in verdict.reason


def test_a_last_digit_that_was_left_out_is_found():
    verdict = judge(hours=112.4, taken_at_day=MAY_3 + 1, before=(MAY_3, 1124.3), pace=0.5)
    assert (verdict.code, verdict.suggestion) == ("slipped_digit", 1124.8)


@pytest.mark.parametrize(
    ("hours", "days", "pace", "code"),
    [
        (82.0, 5, 4.0, "rolled_over"),  # four times its pace, and twelve hours
        (82.5, 5, 4.0, "backwards"),
        (10.0, 10, 0.0, "rolled_over"),  # an idle one is thought to run 12 minutes a day
        (10.5, 10, 0.0, "backwards"),
    ],
)
def test_how_far_a_machine_may_have_run_when_its_meter_began_again(hours, days, pace, code):
    assert judge(hours=hours, taken_at_day=MAY_3 + days, before=(MAY_3, 9990.0), pace=pace).code == code


def test_what_is_unlikely_is_told_by_what_was_before_alone():
    verdict = judge(
        hours=560.0, taken_at_day=MAY_3 + 30, before=(MAY_3, 55.0), after=(MAY_3 + 40, 565.0), pace=0.2
    )
    assert (verdict.code, verdict.suggestion) == ("slipped_digit", 56.0)
