import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.usage.history import clean, increments
from tests.fleet.usage.fleets import excerpt


def of_one(*readings):
    day, hours = np.array(readings, float).T
    return {"machine": np.zeros(len(day), int), "day": day, "hours": hours}


def test_increments_of_unequal_length():
    found = increments(**of_one((0, 10), (1, 12), (15, 40)))
    assert found.days.tolist() == [1, 14]
    assert found.hours.tolist() == [2, 28]
    assert found.machines == 1


def test_a_spike_is_left_out_and_its_neighbours_joined():
    readings = of_one((0, 1100), (2, 1104), (4, 11080), (6, 1112))
    assert clean(**readings).tolist() == [True, True, False, True]
    assert increments(**readings).hours.tolist() == [4, 8]


def test_a_dip_a_false_first_and_a_false_last():
    assert clean(**of_one((0, 1100), (2, 110.4), (4, 1108), (6, 1112))).tolist() == [True, False, True, True]
    assert clean(**of_one((0, 9999), (2, 1104), (4, 1108))).tolist() == [False, True, True]
    assert clean(**of_one((0, 1100), (2, 1104), (4, 11080))).tolist() == [True, True, False]


def test_a_lasting_drop_is_a_new_meter_and_gives_no_increment():
    readings = of_one((0, 1100), (2, 1104), (4, 3), (6, 7), (8, 12))
    assert clean(**readings).all()
    assert increments(**readings).hours.tolist() == [4, 4, 5]


def test_meter_segments_are_not_joined():
    readings = of_one((0, 1100), (2, 1104), (4, 1109), (6, 1112))
    assert increments(**readings, segment=np.array([0, 0, 1, 1])).hours.tolist() == [4, 3]


def test_a_second_meter_counts_on_from_reading_to_reading():
    readings = of_one((0, 1100), (2, 4), (4, 900), (6, 12), (8, 20))
    assert increments(**readings, segment=np.array([0, 1, 1, 1, 1])).hours.tolist() == [8, 8]


def test_what_follows_a_spike_is_believed():
    """45 h on the second day can't be; the 44 h of the third can, though the clock allows 45 to 60, too."""
    assert increments(**of_one((0, 0), (1, 20), (2, 45), (3, 44), (4, 60))).hours.tolist() == [20, 24, 16]


def test_disorder_duplicates_and_what_is_no_number():
    found = increments(**of_one((5, 20), (0, 10), (5, 20), (9, np.nan), (8, -3), (10, 30)))
    assert found.hours.tolist() == [10, 10]


def test_machines_are_kept_apart_and_those_without_readings_counted():
    found = increments(machine=[0, 0, 2, 2], day=[0, 5, 0, 5], hours=[500, 510, 3, 4], machines=4)
    assert found.machine.tolist() == [0, 2]
    assert found.machines == 4


def test_nothing_at_all():
    found = increments(machine=[], day=[], hours=[])
    assert found.machines == 0
    assert len(found.hours) == 0


def test_the_published_excerpt_needs_no_cleaning():
    _, readings, _ = excerpt()
    machine, day, hours = readings.T
    assert clean(machine=machine.astype(int), day=day, hours=hours).all()


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 3), st.floats(0, 400), st.floats(-10, 20_000)), max_size=40))
def test_increments_are_always_possible(readings):
    table = np.array(readings, float).reshape(-1, 3)
    found = increments(machine=table[:, 0].astype(int), day=table[:, 1], hours=table[:, 2], machines=4)
    assert (found.days > 0).all()
    assert (found.hours >= 0).all()
    assert (found.hours <= 24 * found.days + 0.1001).all()
    assert (np.diff(found.machine) >= 0).all()
