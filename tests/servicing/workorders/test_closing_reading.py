"""The hours at close are a reading like any other."""

from datetime import date, timedelta
from decimal import Decimal as D

import pytest

from fleet.models import Reading
from servicing.models import WorkOrder
from tests.factories import ReadingFactory
from tests.servicing.workorders.work import NOW, close, entries, problems, started

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_hours_that_cannot_be_true_are_refused_with_the_reason(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    found = problems(in_farm, order, entries(order, ("8",), hours="10040"))
    assert list(found) == ["hours"]
    assert "confirm it below" in found["hours"]
    assert not Reading.objects.filter(source="order").exists()


def test_confirmed_hours_are_held_and_the_order_closes_at_the_last_counted_hours(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    closed = close(in_farm, order, entries(order, ("8",), hours="10040", hours_confirmed=True))
    assert (closed.state, closed.hours_at_close) == ("closed", 1000)
    assert Reading.objects.get(source="order").state == "held"
    belt.refresh_from_db()
    assert (belt.last_hours, belt.mark_hours) == (1000, 1100)


def test_hours_no_meter_shows_are_refused_even_if_confirmed(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    found = problems(in_farm, order, entries(order, ("8",), hours="-1", hours_confirmed=True))
    assert list(found) == ["hours"]


def test_work_finished_without_a_line_counts_when_it_was_finished(in_farm, machine, belt):
    """Finished the evening before; meanwhile the machine ran on and somebody read the meter."""
    order = started(in_farm, machine, belt)
    evening = NOW - timedelta(hours=14)
    WorkOrder.objects.filter(pk=order.pk).update(started_at=evening - timedelta(hours=2))
    ReadingFactory(machine=machine, taken_at=NOW - timedelta(hours=1), shows=D("1010"))
    machine.refresh_from_db()
    closed = close(in_farm, order, entries(order, ("8",), hours="1004", finished_at=evening))
    assert (closed.closed_at, closed.hours_at_close) == (evening, 1004)
    assert Reading.objects.get(source="order").taken_at == evening
    line = closed.lines.get()
    assert (line.done_hours, line.done_on) == (1004, date(2026, 5, 3))
    belt.refresh_from_db()
    assert (belt.last_hours, belt.last_on) == (1004, date(2026, 5, 3))
    machine.refresh_from_db()
    assert machine.hours == 1010


@pytest.mark.parametrize("off", [timedelta(days=-3), timedelta(hours=3)])
def test_no_work_is_finished_before_its_start_nor_later_than_now(in_farm, machine, belt, off):
    order = started(in_farm, machine, belt)
    closed = close(in_farm, order, entries(order, ("8",), hours="1001", finished_at=NOW + off))
    assert closed.closed_at == (order.started_at if off < timedelta() else NOW)
