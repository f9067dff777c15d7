"""The picture of a machine's hours: axes, the whole fan, the due hours and their likely day."""

from datetime import UTC, date, datetime
from itertools import pairwise

import numpy as np
import pytest
import time_machine
from hypothesis import given
from hypothesis import strategies as st

from servicing.duties.explanation import Fan
from servicing.web.charts.axis import NARROW
from servicing.web.charts.usage_chart import BOTTOM, MOST_DOTS, TOP, picture

NOW = datetime(2026, 4, 1, 12, 0, tzinfo=UTC)  # a Wednesday, at noon
ENDLESS = np.inf


def fan(past=((-40, 300), (-20, 350), (-2, 390)), mark=450.0, steps=23, days=(15, 20, 30)):
    """A fan whose edges rise evenly to the mark, reached after so many early, likely and late days."""
    have = float(past[-1][1]) if past else 0.0
    share = np.linspace(0, 1, steps + 1)[1:]
    edges = [np.where(np.isfinite(end), end, 0) * share + (0 if np.isfinite(end) else end) for end in days]
    past_day, past_hours = (np.array([point[n] for point in past], float) for n in (0, 1))
    return Fan(past_day, past_hours, have, have + (mark - have) * share, *edges, mark)


def drawn(**given):
    with time_machine.travel(NOW, tick=False):
        return picture(fan(**given), now=NOW)


def places(points):
    return [tuple(map(float, point.split(","))) for point in points.split(" ")]


def inside(made):
    every = (
        places(f"{made.area} {made.past} {made.ahead}") if made.past else places(f"{made.area} {made.ahead}")
    )
    return all(0 <= x <= 100 and TOP <= y <= BOTTOM for x, y in [*every, *made.dots])


def test_the_likely_line_meets_the_due_hours_on_the_likely_day():
    made = drawn()
    assert inside(made)
    assert places(made.ahead)[-1] == (made.due_at.at, made.mark_y)
    assert (made.early, made.likely, made.late) == (date(2026, 4, 16), date(2026, 4, 21), date(2026, 5, 1))
    assert made.due_at.label == "likely 21\xa0Apr"
    assert made.today_x < made.due_at.at < 100


def test_the_fan_begins_at_the_last_reading_and_reaches_the_due_hours_early_and_late():
    made = drawn()
    corner = places(made.past)[-1]
    assert places(made.ahead)[0] == corner
    at_mark = [x for x, y in places(made.area) if y == made.mark_y]
    assert min(at_mark) < made.due_at.at < max(at_mark) < 100
    assert places(made.area)[0] == places(made.area)[-1] == corner


def test_a_day_begins_at_midnight_on_the_axis():
    """It is noon, so the first of April lies half a day back."""
    made = drawn()
    per_day = (made.due_at.at - made.today_x) / 20
    at = {tick.label: tick.at for tick in made.frame.across}
    assert at["Apr"] == pytest.approx(made.today_x - 0.5 * per_day, abs=0.02)


@pytest.mark.parametrize("days", [(1, 2, 1000), (300, 500, 900), (0.01, 0.02, 0.03)])
def test_the_frame_grows_with_the_late_day(days):
    made = drawn(days=days)
    assert inside(made)
    at_mark = [x for x, y in places(made.area) if y == made.mark_y]
    assert max(at_mark) < 100, "the late day with some room beside it"
    assert made.late is not None


def test_a_late_day_beyond_three_years_leaves_the_picture_below_the_due_hours():
    made = drawn(days=(100, 400, ENDLESS))
    assert inside(made)
    assert (made.likely, made.late) == (date(2027, 5, 6), None)
    right = [y for x, y in places(made.area) if x == 100]
    assert right
    assert min(right) > made.mark_y


def test_due_hours_that_are_never_reached_have_no_day():
    made = drawn(days=(ENDLESS, ENDLESS, ENDLESS))
    assert inside(made)
    assert (made.due_at, made.early, made.likely, made.late) == (None, None, None, None)
    assert min(y for _, y in places(made.ahead)) > made.mark_y


@pytest.mark.parametrize(
    ("past", "mark", "figures"),
    [
        (((-1, 99_998.0),), 99_999.0, 99_998),
        ((), 50.0, 0),
        (((-50, 20.0), (-30, 20.0), (-1, 20.0)), 20.5, 20),
        (((-700, 20.0), (-400, 21.0)), 500.0, 100),
    ],
    ids=["one reading, huge hours", "no reading", "hours that stand still", "two old readings"],
)
def test_odd_histories_are_drawn(past, mark, figures):
    made = drawn(past=past, mark=mark)
    assert inside(made)
    assert made.mark_y > TOP + 12, "its words stand above the line, within the picture"
    written = [tick.label.replace("\u202f", "") for tick in made.frame.up]
    assert figures in [float(each) for each in written]
    assert len(made.dots) == len({np.floor(day) for day, _ in past})


def test_later_hours_are_never_drawn_before_lesser_ones():
    made = fan()
    made.likely[5] += 9  # a correction may do that
    assert [x for x, _ in places(picture(made, now=NOW).ahead)] == sorted(
        x for x, _ in places(picture(made, now=NOW).ahead)
    )


def test_many_readings_are_a_line_and_one_day_is_one_dot():
    every_day = [(-n, 400.0 - n) for n in range(MOST_DOTS + 20, 0, -1)]
    assert len(places(drawn(past=every_day, days=(40, 50, 60)).past)) == MOST_DOTS + 20
    assert drawn(past=every_day, days=(40, 50, 60)).dots == []
    twice = [(-5.5, 390.0), (-5.2, 391.0), (-1.1, 395.0)]
    assert len(drawn(past=twice).dots) == 2


@given(
    st.floats(0.01, 30),
    st.floats(1, 20),
    st.floats(1, 20),
    st.floats(0.5, 3000),
    st.lists(st.tuples(st.floats(-119, -0.01), st.floats(0, 90_000)), max_size=12),
)
def test_whatever_is_drawn_lies_in_the_frame_and_no_words_meet(early, wider, later, remaining, past):
    days = sorted(day for day, _ in past)
    hours = sorted(hours for _, hours in past)
    have = hours[-1] if hours else 0.0
    made = drawn(
        past=list(zip(days, hours, strict=True)),
        mark=have + remaining,
        days=(early, early * wider, early * wider * later),
    )
    assert inside(made)
    ticks = [tick.at * NARROW / 100 for tick in made.frame.across]
    assert all(other - one > 25 for one, other in pairwise(ticks))
    assert len(made.frame.up) <= 6
