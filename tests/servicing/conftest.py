"""What tests of servicing share: a machine with a history, and an order for its fan belt."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from servicing import workorders
from tests.factories import CheckFactory, DutyFactory, IntervalFactory, ReadingFactory


@pytest.fixture
def machine(farm):
    """T-07, for hire, at 1000 h; it was read ten days ago."""
    now = timezone.now()
    machine = farm.machine(tag="T-07", for_hire=True, hours=Decimal(1000), hours_at=now)
    ReadingFactory(machine=machine, taken_at=now - timedelta(days=10), shows=Decimal(1000))
    return machine


@pytest.fixture
def duty(machine):
    """A fan belt due at 1000 h, with one check: 7 to 7.62 mm."""
    duty = DutyFactory(machine=machine, mark_hours=Decimal(1000), task__title="Fan belt")
    IntervalFactory(task=duty.task)
    CheckFactory(task=duty.task, label="Belt deflection", unit="mm", lower=Decimal(7), upper=Decimal("7.62"))
    return duty


@pytest.fixture
def safety_check(farm, duty):
    """The check of the fan belt is a safety check."""
    with farm.scope():
        duty.task.checks.update(safety=True)


@pytest.fixture
def order(farm, machine, duty):
    """An order for the fan belt, for nobody yet."""
    with farm.scope():
        return workorders.plan(member=farm.manager, machine=machine, duties=[duty])


@pytest.fixture
def started(farm, order):
    """The order for the fan belt, started by the technician."""
    with farm.scope():
        return workorders.start(order=order, member=farm.technician, revision=1)
