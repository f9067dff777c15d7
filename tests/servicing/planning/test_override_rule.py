"""A machine's own interval in place of the program's. The rules are ours."""

from decimal import Decimal as D

import pytest

from servicing.planning.intervals import Rule
from servicing.planning.override_rule import departed


@pytest.mark.parametrize(
    ("rule", "hours", "months", "kept"),
    [
        (Rule(first_hours=D(50), every_hours=D(100)), D(200), None, (D(50), None)),
        (Rule(first_hours=D(50), every_hours=D(100)), D(51), None, (D(50), None)),
        (Rule(first_hours=D(50), every_hours=D(100)), D(50), None, (None, None)),  # no sooner than the repeat
        (Rule(first_hours=D(50), every_hours=D(100)), None, 6, (None, None)),  # hours repeat no more
        (Rule(first_hours=D(50), every_months=12), None, 6, (D(50), None)),  # they never did
        (Rule(first_months=1, every_months=12), None, 6, (None, 1)),
        (Rule(every_hours=D(100)), D(200), None, (None, None)),
    ],
)
def test_a_first_time_stays_where_it_still_comes_first(rule, hours, months, kept):
    found = departed(rule, every_hours=hours, every_months=months)
    assert (found.every_hours, found.every_months) == (hours, months)
    assert (found.first_hours, found.first_months) == kept


@pytest.mark.parametrize(("hours", "window"), [(D(21), D(20)), (D(20), D(0)), (None, D(0))])
def test_a_window_as_wide_as_the_period_falls_away(hours, window):
    rule = Rule(every_hours=D(100), early_window_hours=D(20))
    assert departed(rule, every_hours=hours, every_months=6).early_window_hours == window
