"""Figures and days as people write them. Which mark parts what: common practice, no source."""

from datetime import UTC, date, datetime, time
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.imports.cell_values import Wrong, read_moment, read_number

MADRID = ZoneInfo("Europe/Madrid")


@pytest.mark.parametrize(
    ("cell", "decimal", "number"),
    [
        ("1204.5", ".", "1204.5"),
        ("1,204.5", ".", "1204.5"),
        ("1.204,5", ",", "1204.5"),
        ("1 204,5", ",", "1204.5"),
        ("1\u202f204,5", ",", "1204.5"),
        ("1\u00a0204.5 h", ".", "1204.5"),
        ("1'204.5", ".", "1204.5"),
        ("1’204,5", ",", "1204.5"),
        ("12.345.678", ",", "12345678"),
        ("1204", ",", "1204"),
        ("-3", ".", "-3"),
        (1204, ",", "1204"),
        (1204.5, ",", "1204.5"),
    ],
)
def test_numbers(cell, decimal, number):
    assert read_number(cell, decimal) == Decimal(number)


@pytest.mark.parametrize(
    "cell", ["", None, "ten", "1204,5", "12,04", "1,2,3", "1.204.5", "1e5", "1204.", True, date(2026, 1, 5)]
)
def test_no_numbers(cell):
    with pytest.raises(Wrong):
        read_number(cell, ".")


@given(
    st.decimals(0, 9_999_999, places=2),
    st.sampled_from([".", ","]),
    st.sampled_from(["", " ", "\u202f", "'", "other"]),
)
def test_a_number_written_any_way_comes_back(number, decimal, mark):
    mark = {".": ",", ",": "."}[decimal] if mark == "other" else mark
    text = f"{number:,.2f}".replace(",", "\0").replace(".", decimal).replace("\0", mark)
    assert read_number(text, decimal) == number


@pytest.mark.parametrize(
    ("cell", "order", "moment"),
    [
        ("2026-05-03", "dmy", (3, 5, 12, 0)),
        ("2026/5/3", "mdy", (3, 5, 12, 0)),
        ("2026-05-03 14:30", "dmy", (3, 5, 14, 30)),
        ("2026-05-03T14:30:00", "dmy", (3, 5, 14, 30)),
        ("03/05/2026", "dmy", (3, 5, 12, 0)),
        ("03/05/2026", "mdy", (5, 3, 12, 0)),
        ("3.5.26", "dmy", (3, 5, 12, 0)),
        ("3.5.2026 7:05", "dmy", (3, 5, 7, 5)),
        ("5/3/2026 2:30 PM", "mdy", (3, 5, 14, 30)),
        ("5/3/2026, 12:15 am", "mdy", (3, 5, 0, 15)),
        ("3 May 2026", "mdy", (3, 5, 12, 0)),
        ("3-May-26", "dmy", (3, 5, 12, 0)),
        ("May 3, 2026 07:00", "dmy", (3, 5, 7, 0)),
        (date(2026, 5, 3), "mdy", (3, 5, 12, 0)),
        (datetime(2026, 5, 3, 14, 30), "mdy", (3, 5, 14, 30)),  # noqa: DTZ001 - a sheet's cells have no zone
    ],
)
def test_days(cell, order, moment):
    read = read_moment(cell, None, order, MADRID)
    assert (read.year, read.tzinfo) == (2026, MADRID)
    assert (read.day, read.month, read.hour, read.minute) == moment


def test_an_offset_stands_and_the_time_may_have_a_column_of_its_own():
    assert read_moment("2026-05-03T14:30:00+02:00", None, "dmy", UTC) == datetime(
        2026, 5, 3, 12, 30, tzinfo=UTC
    )
    for clock in ("7:05", time(7, 5), datetime(1899, 12, 30, 7, 5), 7 / 24 + 5 / 1440):  # noqa: DTZ001
        assert read_moment("2026-05-03", clock, "dmy", UTC) == datetime(2026, 5, 3, 7, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    "cell", ["", None, "soon", "31/02/2026", "3 Mai 2026", 46000, "2026-05-03 25:00", "5 Jan"]
)
def test_no_days(cell):
    with pytest.raises(Wrong):
        read_moment(cell, None, "dmy", UTC)


def test_a_time_the_clocks_leap_over_is_none():
    with pytest.raises(Wrong, match="went forward over this time"):
        read_moment(
            "2026-03-29 02:30", None, "dmy", MADRID
        )  # EU: clocks go forward on the last Sunday of March
