"""One meter's readings judged again. The clock's rule is arithmetic; the histories are these tests' own."""

from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.usage.replay import StandingReading, judge_again, pace_so_far


def known(*readings):
    return [StandingReading(float(day), float(hours), counted) for day, hours, counted in readings]


def test_a_held_reading_counts_once_what_spoke_against_it_is_gone():
    assert judge_again(known((0, 100, True), (3, 130, False))).keys() == {1}
    assert judge_again(known((0, 100, True), (1, 130, False))) == {}  # 30 h in a day


def test_the_pace_is_that_since_the_meters_first_reading():
    """10 h a day since it began, though it lay idle lately: 100 h in ten days are no slip."""
    earlier = [(0.0, 0.0), (40.0, 1000.0), (100.0, 1001.0)]
    assert judge_again(known((110, 1101, True)), earlier=earlier) == {}
    assert judge_again(known((110, 1101, True)), earlier=[earlier[1], earlier[2]]).keys() == {0}


def test_what_others_contradict_stays_for_a_person_to_say_which_is_wrong():
    readings = known((0, 100, True), (3, 9999, True), (4, 104, False), (6, 110, False))
    assert judge_again(readings) == {}


def test_a_counted_one_is_held_where_a_slip_explains_it_by_what_is_known_now():
    readings = known((0, 50, True), (30, 52, True), (60, 55, True), (90, 560, True))
    (verdict,) = judge_again(readings).values()
    assert (verdict.counted, verdict.code, verdict.suggestion) == (False, "slipped_digit", 56.0)
    readings[3].fixed = True  # a person said that it counts
    assert judge_again(readings) == {}


def test_what_follows_a_reading_that_is_taken_out_is_let_in():
    readings = known((0, 50, True), (30, 52, True), (60, 55, True), (90, 560, True), (95, 57, False))
    assert {place: verdict.counted for place, verdict in judge_again(readings).items()} == {3: False, 4: True}


def test_what_came_before_and_the_meters_end_bound_it():
    readings = known((10, 130, False))
    assert judge_again(readings, earlier=[(0.0, 100.0), (9.0, 120.0)]).keys() == {0}
    assert judge_again(readings, earlier=[(0.0, 100.0), (9.0, 140.0)]) == {}
    assert judge_again(readings, end=(11.0, 125.0)) == {}


def test_a_pace_needs_two_weeks():
    assert pace_so_far((0.0, 100.0), (14.0, 128.0)) == 2.0
    assert pace_so_far((0.0, 100.0), (13.9, 128.0)) is None
    assert pace_so_far(None, (14.0, 128.0)) is None


STEPS = st.lists(st.tuples(st.floats(0.01, 60), st.floats(0, 24)), min_size=2, max_size=12)


def history(steps):
    """Readings that don't contradict each other: steps of (days, hours a day)."""
    day, hours, readings = 0.0, 20.0, []
    for gap, rate in steps:
        day, hours = day + gap, round(hours + gap * rate, 1)
        readings.append((day, hours))
    return readings


@settings(deadline=None, max_examples=200)
@given(steps=STEPS, data=st.data())
def test_whatever_counted_at_first_a_consistent_history_settles_to_the_same(steps, data):
    """From any state that its readings may have been left in."""
    readings = history(steps)
    states = data.draw(st.lists(st.booleans(), min_size=len(readings), max_size=len(readings)))
    ends = []
    for begin in ([True] * len(readings), states):
        start = known(*((*reading, counted) for reading, counted in zip(readings, begin, strict=True)))
        changed = judge_again(start)
        ends.append([changed[n].counted if n in changed else begin[n] for n in range(len(readings))])
    assert ends[0] == ends[1]
