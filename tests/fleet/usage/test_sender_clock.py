"""A sender's clock that is off, by as many sends and minutes as the module says. The rule is ours."""

import pytest

from fleet.usage.sender_clock import ahead, behind

MINUTE = 1 / 1440
HOUR = 60 * MINUTE
AT_ODD_TIMES = [n * 7 * HOUR + n * 11 * MINUTE for n in range(6)]  # minutes 0, 11, 22, 33, 44, 55


@pytest.mark.parametrize(("minutes", "told"), [(14.9, False), (15.1, True), (200, True)])
def test_a_clock_is_ahead_by_more_than_a_quarter_of_an_hour(minutes, told):
    early = [-3 * HOUR, minutes * MINUTE, -MINUTE]
    assert ahead(early) == (pytest.approx(minutes * MINUTE) if told else None)
    assert ahead([]) is None
    assert ahead([15 / 1440]) is None


@pytest.mark.parametrize(("minutes", "told"), [(29.9, False), (30.1, True), (120, True)])
def test_a_clock_is_behind_by_half_an_hour_or_more(minutes, told):
    assert behind([minutes * MINUTE] * 5, AT_ODD_TIMES[:5]) == (
        pytest.approx(minutes * MINUTE) if told else None
    )


def test_five_sends_must_agree_within_ten_minutes_and_the_middle_one_is_told():
    late = [61, 69, 60, 63, 62]
    assert behind([m * MINUTE for m in late], AT_ODD_TIMES[:5]) == pytest.approx(62 * MINUTE)
    assert behind([m * MINUTE for m in late[1:]], AT_ODD_TIMES[:4]) is None
    assert behind([m * MINUTE for m in [61, 70.1, 60, 63, 62]], AT_ODD_TIMES[:5]) is None


def test_only_the_latest_five_are_looked_at():
    late = [900, 62, 62, 62, 62, 62]
    assert behind([m * MINUTE for m in late], AT_ODD_TIMES) == pytest.approx(HOUR + 2 * MINUTE)
    turned = [62, 62, 62, 62, 62, 0]
    assert behind([m * MINUTE for m in turned], AT_ODD_TIMES) is None


@pytest.mark.parametrize(
    ("minutes", "told"),
    [
        ([0, 5, 10, 15, 19], False),  # within twenty minutes: sent by a timetable
        ([0, 5, 10, 15, 21], True),
        ([50, 55, 0, 5, 9], False),  # the dial goes on over the full hour
        ([50, 55, 0, 5, 11], True),
    ],
)
def test_sends_at_much_the_same_minute_go_by_a_timetable(minutes, told):
    arrived = [n * HOUR + minute * MINUTE for n, minute in enumerate(minutes)]
    assert (behind([HOUR] * 5, arrived) is not None) is told
