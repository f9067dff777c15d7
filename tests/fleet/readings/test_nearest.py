"""The readings next to a moment, as every process asks for them."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.db.models import OuterRef

from fleet.models import Machine, Reading
from tests.factories import MachineFactory, ReadingFactory

START = datetime(2026, 5, 1, 12, 0, tzinfo=UTC)
HOURS = [(0, 10), (1, 11), (3, 12), (3, 13), (6, 14)]  # days after START; two in the same moment


def day(n):
    return START + timedelta(days=n)


@pytest.fixture
def machine(farm):
    machine = MachineFactory(organisation=farm.organisation, yard=farm.yard)
    for after, hours in HOURS:
        ReadingFactory(machine=machine, taken_at=day(after), shows=Decimal(hours))
    ReadingFactory(machine=machine, taken_at=day(2), shows=Decimal(900), state=Reading.State.HELD, reason="x")
    elsewhere = MachineFactory(organisation=farm.organisation, yard=farm.yard)
    ReadingFactory(machine=elsewhere, taken_at=day(2), shows=Decimal(1))
    return machine


@pytest.mark.parametrize("asked", [-1, 0, 0.5, 1, 2, 3, 4, 6, 7])
def test_before_by_and_after_a_moment_the_nearest_comes_first(farm, machine, asked):
    before = [hours for at, hours in HOURS if at < asked][::-1]
    by = [hours for at, hours in HOURS if at <= asked][::-1]
    after = [hours for at, hours in HOURS if at > asked]
    with farm.scope():
        counted = Reading.history(machine=machine)
        assert [reading.hours for reading in counted.before(day(asked))] == before
        assert [reading.hours for reading in counted.by(day(asked))] == by
        assert [reading.hours for reading in counted.after(day(asked))] == after
        around = Reading.history(machine=OuterRef("pk")).ids_around(day(asked), "then")
        found = Machine.objects.annotate(**around).values_list("by_then", "after_then").get(pk=machine.pk)
        hours = [pk and Reading.objects.get(pk=pk).hours for pk in found]
    assert hours == [by[0] if by else None, after[0] if after else None]
