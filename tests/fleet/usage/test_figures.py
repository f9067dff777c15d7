"""Hours, days and lengths of time as people read them; the spaces are those of ISO 80000-1, 7.3."""

from datetime import date
from decimal import Decimal

import pytest

from fleet.usage.figures import (
    COMMA,
    ISO,
    MONTH_FIRST,
    Writing,
    days_from_to,
    grouped,
    hours,
    how_many,
    long_day,
    span,
)
from fleet.usage.figures import written as written_for

MINUTE, HOUR = 1 / 1440, 1 / 24


@pytest.mark.parametrize(
    ("value", "places", "written"),
    [
        (999, 0, "999"),
        (1000, 0, "1\u202f000"),
        (1234567.25, 1, "1\u202f234\u202f567.3"),
        (Decimal("0.05"), 1, "0.1"),
        (Decimal("-1204.5"), 1, "\u22121\u202f204.5"),
        (2.675, 2, "2.68"),  # as it is written, not as it is stored
    ],
)
def test_a_number_is_grouped_and_rounded_half_up(value, places, written):
    assert grouped(value, places) == written


def test_hours_have_a_tenth_and_their_unit():
    assert hours(1204.45) == "1\u202f204.5\u00a0h"


@pytest.mark.parametrize(
    ("days", "written"),
    [
        (0, "0\u00a0min"),
        (59.4 * MINUTE, "59\u00a0min"),
        (59.6 * MINUTE, "1.0\u00a0h"),  # no one says 60 min
        (HOUR, "1.0\u00a0h"),
        (71.9 * HOUR, "71.9\u00a0h"),
        (3, "3\u00a0days"),
        (9.4, "9\u00a0days"),
        (1500, "1\u202f500\u00a0days"),
    ],
)
def test_a_length_of_time_in_the_words_of_its_size(days, written):
    assert span(days) == written


def test_days_are_named_once_or_from_one_to_another():
    first = date(2026, 5, 3)
    assert long_day(first) == "3 May 2026"
    assert days_from_to(first, first) == "3 May 2026"
    assert days_from_to(first, date(2026, 6, 1)) == "3 May to 1 June 2026"
    assert days_from_to(first, date(2027, 1, 1)) == "3 May 2026 to 1 January 2027"
    with written_for(Writing(days=ISO)):
        assert days_from_to(first, date(2026, 6, 1)) == "2026-05-03 to 2026-06-01"
    with written_for(Writing(days=MONTH_FIRST)):
        assert days_from_to(first, date(2026, 6, 1)) == "May 3 to June 1, 2026"


def test_thousands_in_a_sentence_are_parted_by_what_is_no_decimal_mark():
    assert how_many(400_000) == "400,000"
    with written_for(Writing(COMMA)):
        assert how_many(400_000) == "400\u202f000"
