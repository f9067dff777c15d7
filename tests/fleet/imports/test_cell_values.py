"""Figures as people write them. Which mark parts what: common practice, no source."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.imports.cell_values import Wrong, read_marked_hours, read_number


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
        ("1204,5", ".", "1204.5"),  # one mark, and no three figures after it: it parts no thousands
        ("1204.5", ",", "1204.5"),
        ("1.216,5", ".", "1216.5"),
        ("1216:30", ".", "1216.5"),
        ("1216:06", ".", "1216.1"),
        ("12:16:30", ".", "12.28"),
        ("1216 h 30", ",", "1216.5"),
        ("1216h30 min", ",", "1216.5"),
        ("1216,5 Std.", ",", "1216.5"),
        ("1216 Bh", ".", "1216"),
        ("1 216,5 heures", ",", "1216.5"),
        ("h 88,5", ",", "88.5"),
        ("1216 uur", ".", "1216"),
    ],
)
def test_numbers(cell, decimal, number):
    assert read_number(cell, decimal) == Decimal(number)


@pytest.mark.parametrize(
    "cell",
    [
        "",
        None,
        "ten",
        "1,2,3",
        "1216 km",
        "12:75",
        "h",
        "h h",
        "1.204.5",
        "1e5",
        "1204.",
        True,
        date(2026, 1, 5),
    ],
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


def test_a_figure_of_three_after_one_mark_is_read_by_the_files_own_mark():
    assert read_number("1.204", ".") == Decimal("1.204")
    assert read_number("1.204", ",") == Decimal(1204)
    assert read_marked_hours("1204,5", ",") == Decimal("1204.5")
    with pytest.raises(Wrong):
        read_marked_hours("1204,5", ".")


@pytest.mark.parametrize(
    "cell",
    ["ca. 1216", "~1216", "1216?", "about 1216", "etwa 1216", "env. 1216", "1216 (est.)", "1216 gesch."],
)
def test_what_is_not_certain_is_not_taken(cell):
    with pytest.raises(Wrong, match=r"isn't certain\. Read the meter"):
        read_number(cell, ".")


@pytest.mark.parametrize(
    ("minutes", "hours"), [("30", "1216.5"), (6, "1216.1"), ("00", "1216"), (45.0, "1216.75")]
)
def test_minutes_may_have_a_column_of_their_own(minutes, hours):
    assert read_number("1216", ".", minutes) == Decimal(hours)


@pytest.mark.parametrize("minutes", ["60", "-1", "half", 7.5])
def test_minutes_that_are_none_are_told(minutes):
    with pytest.raises(Wrong, match="are not minutes of an hour"):
        read_number("1216", ".", minutes)
