"""A moment in ISO 8601, and the moment that a clock on a wall shows."""

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.core.moment_reader import on_the_clocks, read_iso

MADRID = ZoneInfo("Europe/Madrid")
OFFSETS = st.integers(-23 * 60, 23 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))


@given(st.datetimes(timezones=st.none() | OFFSETS), st.sampled_from(["", " ", "\n"]))
def test_what_is_written_in_iso_8601_comes_back(moment, around):
    for text in (moment.isoformat(), moment.isoformat(sep=" ")):
        read = read_iso(around + text + around)
        assert read == moment
        assert read.utcoffset() == moment.utcoffset()


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("2026-05-03", datetime(2026, 5, 3)),  # noqa: DTZ001 - it names no zone
        ("20260503T1430", datetime(2026, 5, 3, 14, 30)),  # noqa: DTZ001
        ("2026-05-03T14:30Z", datetime(2026, 5, 3, 14, 30, tzinfo=UTC)),
        ("2026-05-03T14:30:00,5+02:00", datetime(2026, 5, 3, 12, 30, 0, 500_000, tzinfo=UTC)),
    ],
)
def test_other_ways_of_iso_8601(text, read):
    assert read_iso(text) == read


@pytest.mark.parametrize(
    "text",
    ["", "soon", "14:30", "2026-5-3", "3.5.2026", "2026-02-30", "2026-05-03T25:00", "1777818600", "\0"],
)
def test_what_is_no_moment(text):
    assert read_iso(text) is None


@given(st.integers(-631_152_000, 4_102_444_800))  # 1950 to 2100
def test_what_the_clocks_showed_leads_back_to_the_moment_or_to_the_first_of_two(second):
    moment = datetime.fromtimestamp(second, UTC)
    shown = moment.astimezone(MADRID).replace(tzinfo=None)
    found = on_the_clocks(shown, MADRID)
    assert found is not None
    assert moment - found.astimezone(UTC) in (timedelta(0), timedelta(hours=1))


def test_the_clocks_leap_over_an_hour_in_spring_and_show_one_twice_in_autumn():
    # EU: clocks change on the last Sunday of March and of October
    assert on_the_clocks(datetime(2026, 3, 29, 2, 30), MADRID) is None  # noqa: DTZ001 - a wall's clock
    twice = on_the_clocks(datetime(2026, 10, 25, 2, 30), MADRID)  # noqa: DTZ001
    assert twice.astimezone(UTC) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/Los_Angeles", "UTC"])
@pytest.mark.parametrize("wall", [datetime.min, datetime.max])  # noqa: DTZ901
def test_the_clocks_of_the_first_and_the_last_day_of_a_calendar(zone, wall):
    assert on_the_clocks(wall, ZoneInfo(zone)).replace(tzinfo=None) == wall
