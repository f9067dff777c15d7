"""Days gathered into stops."""

from datetime import date, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from servicing.planning.stops import gather

DAYS = st.lists(st.none() | st.dates(date(2026, 1, 1), date(2026, 6, 30)), max_size=30)


def test_what_falls_within_a_week_of_the_first_is_one_stop():
    days = [date(2026, 3, 20), date(2026, 3, 10), None, date(2026, 3, 17), date(2026, 3, 18)]
    assert gather(days) == [[1, 3], [4, 0], [2]]


@given(DAYS, st.integers(0, 40))
def test_every_day_is_in_one_stop_and_no_stop_is_longer_than_allowed(days, within):
    gathered = gather(days, within_days=within)
    assert sorted(place for stop in gathered for place in stop) == list(range(len(days)))
    firsts = []
    for stop in gathered:
        known = [days[place] for place in stop if days[place]]
        if known:
            assert max(known) - min(known) <= timedelta(days=within)
            firsts.append(min(known))
    for earlier, later in pairwise(firsts):
        assert later - earlier > timedelta(days=within)
