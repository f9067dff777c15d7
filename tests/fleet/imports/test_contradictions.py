"""A figure that the further ones of its machine contradict is in doubt before any of them counts."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from fleet.imports.contradictions import contradicted, doubts_of
from fleet.imports.fleet import Fleet, Known
from fleet.imports.plan import Plan
from fleet.imports.table import FileRow

START = datetime(2026, 1, 1, tzinfo=UTC)
PLAN = Plan(0, 1, 2, order="dmy", decimal=".")


def doubted(*figures, weeks=None, last=None, others=()):
    """Which of a machine's weekly figures are in doubt, from 0. last: what it showed before."""
    at = START - timedelta(weeks=1)
    known = Known(1, "T-1", last_at=at, last=Decimal(last)) if last else Known(1, "T-1")
    rows = [
        FileRow(line, ["T-1", START + timedelta(weeks=week, hours=12), shows, *more])
        for line, (week, shows, more) in enumerate(
            zip(weeks or range(len(figures)), figures, others or [()] * len(figures), strict=True)
        )
    ]
    return [line for _sheet, line, _place in doubts_of(lambda: rows, PLAN, Fleet([known]))]


@pytest.mark.parametrize(
    ("figures", "expected"),
    [
        ([100, 110, 120], []),
        ([1000, 101, 110], [0]),  # a digit too many, first of all
        ([0, 2219.5, 2230], [0]),  # no signal
        ([100, 180, 110, 120], [1]),  # possible after the one before, but not before those that follow
        ([100, 1000, 110, 120], []),  # the door holds it
        ([100, 110, 120, 3, 10, 20, 30], []),  # another meter: the door holds what comes after
        ([100, 110, 3, 10, 20, 30], []),
        ([1000, 101], [0, 1]),  # nothing tells which
        ([1000, 101, 5000, 7], [0, 1, 2, 3]),
        ([100], []),
    ],
)
def test_what_is_in_doubt_of_a_machine_that_was_never_read(figures, expected):
    assert doubted(*figures) == expected


@pytest.mark.parametrize(
    ("figures", "expected"),
    [
        ([100, 110], []),
        ([1000, 101, 110], []),  # the door holds it
        ([170, 105, 110], [0]),
        ([170, 105], []),  # either may be wrong; the later one is held at the door
        ([3, 10, 20], []),  # another meter
    ],
)
def test_what_was_shown_before_speaks_too(figures, expected):
    assert doubted(*figures, last=95) == expected


def test_a_first_figure_years_before_the_rest_is_doubted_where_the_meter_stood_still():
    assert doubted(100, 101, 110, weeks=[-520, 0, 1]) == [0]
    assert doubted(100, 8000, 8010, weeks=[-520, 0, 1]) == []


def test_two_counters_that_changed_places_are_told_by_both():
    km = [(500,), (120,), (530,), (545,)]
    assert doubted(100, 510, 120, 130, others=km) == [1]
    assert doubted(100, 115, 120, 130, others=[(500,), (510,), (530,), (545,)]) == []


def test_a_start_of_the_day_beside_its_end_is_not_swapped():
    assert doubted(10, 20, 30, 40, others=[(0,), (10,), (20,), (30,)]) == []


def test_a_row_that_is_wrong_already_keeps_its_reason():
    rows = [FileRow(1, ["T-1"], wrong="Why."), FileRow(2, ["T-1"])]
    assert [row.wrong for row in contradicted(rows, {("", 1, 0): "x", ("", 2, 0): "y"})] == ["Why.", "y"]
