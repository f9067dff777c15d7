"""What may lie behind held readings. The clock's rule is arithmetic; the histories are these tests' own."""

from fleet.usage.explanations import mixed_up, new_meter


def test_low_readings_that_run_on_are_a_new_meter_begun_at_zero():
    found = new_meter(before=(10.0, 4820.0), lows=[(12.0, 8.0), (13.0, 14.0), (20.0, 60.0)])
    assert found == (10.0, 4820.0, 0.0, [0, 1, 2])


def test_a_used_meter_begins_with_its_first_figure():
    found = new_meter(before=(10.0, 4820.0), lows=[(12.0, 900.0), (13.0, 906.0)], pace=3.0)
    assert found == (12.0, 4826.0, 900.0, [0, 1])


def test_one_low_reading_is_no_new_meter_nor_are_two_that_do_not_run_on():
    assert new_meter(before=(10.0, 4820.0), lows=[(12.0, 8.0)]) is None
    assert new_meter(before=(10.0, 4820.0), lows=[(12.0, 8.0), (12.0, 8.1)]) is None
    assert new_meter(before=(10.0, 4820.0), lows=[(12.0, 8.0), (13.0, 480.0)]) is None
    assert new_meter(before=(10.0, 4820.0), lows=[(8.0, 8.0), (9.0, 12.0)]) is None


def test_a_new_meter_runs_24_hours_a_day_at_most_and_a_tenth_for_rounding():
    for shows, members in ((32.1, [0, 1]), (32.2, None)):
        found = new_meter(before=(10.0, 4820.0), lows=[(12.0, 8.0), (13.0, shows)])
        assert (found and found.members) == members


def test_a_stray_one_among_them_is_passed_over():
    found = new_meter(before=(10.0, 4820.0), lows=[(12.0, 8.0), (13.0, 482.1), (14.0, 15.0)])
    assert found is not None
    assert found.members == [0, 2]


def test_two_readings_mixed_up_fit_each_others_history():
    one, one_between = (12.0, 3009.0), ((10.0, 1200.0), None)
    other, other_between = (12.5, 1206.0), ((10.0, 3000.0), (14.0, 3015.0))
    assert mixed_up(one=one, one_between=one_between, other=other, other_between=other_between)
    assert not mixed_up(one=one, one_between=one_between, other=(12.5, 1300.0), other_between=other_between)
    assert not mixed_up(one=one, one_between=(None, None), other=other, other_between=other_between)
