"""CSV within limits, and what parts its cells."""

import csv
from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.core.csv_reader import SEPARATORS, Unreadable, records, separator_of

TABLES = st.integers(2, 6).flatmap(
    lambda width: st.lists(
        st.lists(st.text('ab1 ."\n', max_size=8), min_size=width, max_size=width), min_size=1, max_size=8
    )
)


def written(rows, separator):
    text = StringIO(newline="")
    csv.writer(text, delimiter=separator, quoting=csv.QUOTE_ALL).writerows(rows)
    return text.getvalue()


@given(TABLES, st.sampled_from(SEPARATORS))
def test_a_table_comes_back_as_it_was_written(rows, separator):
    file = StringIO(written(rows, separator), newline="")
    assert [cells for _, _, cells in records(file, separator=separator, longest=10_000)] == rows


@given(TABLES, st.sampled_from(SEPARATORS))
def test_the_separator_is_found_whatever_stands_between_quotation_marks(rows, separator):
    assert separator_of(written(rows, separator)) == separator


@pytest.mark.parametrize(
    ("text", "separator"),
    [
        ("a;b;c", ";"),
        ("a,b,c", ","),
        ("a\tb\tc, d", "\t"),
        ("Machine;Hours\nT-01;1204,5\nT-02;9,25\n", ";"),
        ("machine,taken_at,hours\nT-01,2026-05-03,1204.5\n", ","),
        ("Fleet list of May; printed today\nmachine,day,hours\nT-01,3 May,7\nT-02,3 May,8\n", ","),
        ("alone", "\t"),
        ("", "\t"),
    ],
)
def test_the_separator_of_a_file(text, separator):
    assert separator_of(text) == separator


@pytest.mark.parametrize(("text", "line"), [('a,b\n"c' + "x" * 50, 2), ("a\nb,\0\n", 2), ('a\n"b" c,d', 2)])
def test_what_is_no_csv_is_told_by_its_line(text, line):
    with pytest.raises(Unreadable) as refused:
        list(records(StringIO(text, newline=""), longest=40, strict=True))
    assert refused.value.line == line
