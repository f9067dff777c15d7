"""Forecasts of a published fatigue test: what is known of its table, and how well we foretell it."""

from itertools import pairwise
from statistics import median

import pytest

from servicing.ledger.trend import Point, look
from tests.servicing.ledger.fatigue import (
    CRITICAL,
    PATHS,
    by_path,
    by_straight_line,
    crosses,
    forecasts,
    run,
)


def test_the_table_from_memory_has_the_shape_of_the_published_one():
    """262 rows and 21 paths in R's nlme; from 0.90 in; 12 reach 1.60 in within 0.12 million cycles."""
    assert (len(PATHS), sum(map(len, PATHS))) == (21, 262)
    assert {path[0] for path in PATHS} == {0.90}
    assert all(before <= after for path in PATHS for before, after in pairwise(path))
    assert [path[-1] >= CRITICAL for path in PATHS] == [True] * 12 + [False] * 9
    assert max(map(len, PATHS)) == 13


def test_a_straight_line_is_late_in_12_of_12_and_sure_in_none():
    """As was found of the published table: a check of the remembered one."""
    halves = [
        each for each in forecasts(by_straight_line) if each.known == -(-len(PATHS[each.specimen]) // 2)
    ]
    assert len(halves) == 12
    assert all(each.error > 0 for each in halves)
    assert not any(each.is_inside for each in halves)


def test_the_goal_each_specimen_left_out_in_turn():
    made = forecasts(by_path)
    assert len(made) == 36, "something is said each time"
    assert median(abs(each.error) for each in made) < 0.25
    assert sum(each.is_inside for each in made) >= 26


def test_figures_as_they_stand_in_the_table():
    """Whoever moves one of them has moved a constant, and writes the table of README.md anew."""
    made = forecasts(by_path)
    assert median(abs(each.error) for each in made) == pytest.approx(0.053, abs=0.001)
    assert sum(each.is_inside for each in made) == 32
    assert median(each.width for each in made) == pytest.approx(0.267, abs=0.001)
    before = forecasts(by_straight_line)
    assert len(before) == 36
    assert median(abs(each.error) for each in before) == pytest.approx(1.117, abs=0.001)


def test_no_forecast_of_a_specimen_that_outlived_the_test_says_that_it_failed_in_it():
    made = forecasts(by_path, failed=False)
    assert len(made) == 27
    assert not any(each.told.late < run(each.specimen)[-1][0] for each in made)


def test_a_specimen_alone_is_told_with_a_wider_interval_or_not_at_all():
    """Without kin a bend must show in the specimen's own values."""
    wider = 0
    for each in forecasts(by_path):
        alone = look([Point(*row) for row in run(each.specimen)[: each.known]], lower=None, upper=CRITICAL)
        assert alone.kin == 0
        seen = alone.crossing or alone.vague
        wider += alone.vague is not None or seen.late - seen.early > each.told.late - each.told.early
    assert wider > 18
    assert crosses(20) is None
