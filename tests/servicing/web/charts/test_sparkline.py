"""Hours a week beside a machine on the list."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal as D

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from servicing.web.charts.sparkline import STEP, TALL, sparkline
from tests.factories import ReadingFactory

NOW = datetime(2026, 4, 1, 9, 0, tzinfo=UTC)


def weeks(*hours):
    return [None if each is None else D(each) for each in hours]


def test_bars_are_as_high_as_each_week_is_beside_the_busiest():
    drawn = sparkline(weeks(0, 10, 20, 40))
    assert [(bar.x, bar.height) for bar in drawn.bars] == [
        (0, 1), (STEP, 5.25), (2 * STEP, 9.5), (3 * STEP, TALL),
    ]  # fmt: skip
    assert all(bar.y + bar.height == TALL for bar in drawn.bars)


def test_it_is_said_in_words():
    assert sparkline(weeks(3, 41, 12, 22)).words == "Hours a week, last 4 weeks: 3 to 41\xa0h, lately 22\xa0h"
    assert sparkline(weeks("0.4", 2, 1, "1.5")).words.endswith("0.4 to 2.0\xa0h, lately 1.5\xa0h")


def test_a_week_that_is_not_known_leaves_a_gap_and_lately_is_the_last_that_is():
    drawn = sparkline(weeks(5, None, 15, 20, 30, None))
    assert [bar.x // STEP for bar in drawn.bars] == [0, 2, 3, 4]
    assert drawn.words.endswith("lately 30\xa0h")


@pytest.mark.parametrize("hours", [(), (None, None, None, None), (1, 2, None, 3)])
def test_too_few_weeks_show_nothing(hours):
    assert sparkline(weeks(*hours)) is None


def test_equal_weeks_and_weeks_that_stand_still():
    equal, still = sparkline(weeks(8, 8, 8, 8)), sparkline(weeks(0, 0, 0, 0))
    assert {bar.height for bar in equal.bars} == {TALL}
    assert equal.words.endswith(": 8.0\xa0h, lately 8.0\xa0h")
    assert {bar.height for bar in still.bars} == {1}
    assert still.words.endswith(": 0\xa0h, lately 0\xa0h")


def read(machine, *, per_week, weeks):
    for back in range(weeks + 1):
        hours = D(per_week * (weeks - back) + 100)
        ReadingFactory(machine=machine, taken_at=NOW - timedelta(days=7 * back), shows=hours)


def listed(farm):
    with time_machine.travel(NOW, tick=False), CaptureQueriesContext(connection) as asked:
        answer = farm.client("manager").get("/machines/")
    return answer, [query["sql"] for query in asked if "fleet_reading" in query["sql"]]


def test_the_list_draws_it_for_each_machine_that_has_readings_by_one_query(farm):
    for per_week in (4, 30):
        read(farm.machine(), per_week=per_week, weeks=12)
    read(farm.machine(), per_week=9, weeks=2)
    answer, asked = listed(farm)
    titles = [spark.words for _, _, spark in answer.context["rows"] if spark]
    assert sorted(titles) == [
        "Hours a week, last 12 weeks: 30\xa0h, lately 30\xa0h",
        "Hours a week, last 12 weeks: 4.0\xa0h, lately 4.0\xa0h",
    ]
    assert answer.content.decode().count('<svg class="sparkline"') == 2
    assert len([sql for sql in asked if "GROUP BY" in sql]) == 1
