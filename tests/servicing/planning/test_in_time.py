"""How far work may go and still be in time. The published examples of such rules are in test_intervals.py."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from servicing.planning.intervals import Mark, last_in_time

DAY = date(2026, 3, 1)


@pytest.mark.parametrize(
    ("allowance", "due", "done_hours", "done_on", "in_time"),
    [
        (0, Mark(Decimal(100)), 100, DAY, True),
        (0, Mark(Decimal(100)), "100.1", DAY, False),
        (10, Mark(Decimal(100)), 110, DAY, True),
        (10, Mark(Decimal(100)), "110.1", DAY, False),
        (10, Mark(Decimal(100)), None, DAY, True),  # its hours weren't written down
        (0, Mark(on=DAY), 900, DAY, True),
        (0, Mark(on=DAY), 900, DAY + timedelta(days=1), False),
        (10, Mark(on=DAY), 900, DAY + timedelta(days=1), False),  # hours of grace are no days of grace
        (10, Mark(Decimal(100), DAY), 110, DAY, True),
        (10, Mark(Decimal(100), DAY), "110.1", DAY, False),
        (10, Mark(Decimal(100), DAY), 110, DAY + timedelta(days=1), False),
    ],
)
def test_in_time_at_its_edges(allowance, due, done_hours, done_on, in_time):
    limit = last_in_time(due, Decimal(allowance), to_month_end=False)
    assert limit.is_kept(done_hours and Decimal(done_hours), done_on) is in_time


@pytest.mark.parametrize(
    ("due", "last_day"),
    [(date(2026, 3, 1), date(2026, 2, 28)), (date(2026, 3, 2), date(2026, 3, 2)), (None, None)],
)
def test_a_month_ends_the_day_before_the_first_and_a_day_brought_forward_holds(due, last_day):
    assert last_in_time(Mark(on=due), Decimal(0), to_month_end=True).on == last_day
