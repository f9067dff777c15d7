"""Duties: marks, days, and what happens to them as machines run, change and are worked on."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine

from fleet.models import Machine
from servicing import due
from servicing.models import Duty
from tests.factories import (
    IntervalFactory,
    MachineFactory,
    MachineTypeFactory,
    ProgramFactory,
    ProgramVersionFactory,
    ReadingFactory,
    TaskFactory,
)

NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
TODAY = date(2026, 6, 1)
BEGAN = datetime(2026, 1, 1, tzinfo=UTC)


@pytest.fixture(autouse=True)
def frozen():
    with time_machine.travel(NOW, tick=False) as clock:
        yield clock


def build_version(farm, number=1, *, program=None, **kwargs):
    if program is None:
        program = ProgramFactory(
            organisation=farm.organisation, machine_type=MachineTypeFactory(organisation=farm.organisation)
        )
    return ProgramVersionFactory(program=program, number=number, made_at=BEGAN, **kwargs)


@pytest.fixture
def version(farm):
    return build_version(farm)


def add_task(version, code="engine-oil", *, needs=(), without=(), **interval):
    task = TaskFactory(version=version, code=code)
    IntervalFactory(task=task, **{"every_hours": Decimal(100), **interval})
    task.needs.set(needs)
    task.without.set(without)
    return task


def add_machine(farm, version, *, hours_a_day=0, days=120, **kwargs):
    """A machine with a reading each week for so many days up to yesterday, running evenly."""
    machine = MachineFactory(
        organisation=farm.organisation, type=version.program.machine_type, yard=farm.yard, **kwargs
    )
    if hours_a_day:
        start = NOW - timedelta(days=days + 1)
        for day in range(0, days + 1, 5):
            ReadingFactory(
                machine=machine,
                taken_at=start + timedelta(days=day),
                shows=Decimal(hours_a_day * day).quantize(Decimal("0.1")),
            )
        set_hours(machine, hours_a_day * days, at=NOW - timedelta(days=1))
    return machine


def set_hours(machine, hours, *, at=NOW):
    Machine.objects.filter(pk=machine.pk).update(hours=Decimal(hours), hours_at=at)
    machine.refresh_from_db()


def refresh(*machines, **kwargs):
    return due.refresh(machine_ids=[machine.pk for machine in machines], **kwargs)


def test_a_duty_is_made_with_mark_and_days_in_order(in_farm, version):
    task = add_task(version, every_hours=Decimal(250), every_months=12)
    machine = add_machine(in_farm, version, hours_a_day=2)

    assert refresh(machine) == 1

    duty = Duty.objects.get()
    assert (duty.task, duty.mark_hours, duty.mark_on) == (task, 250, date(2027, 1, 1))
    assert duty.early < duty.likely < duty.late
    # 10 h to go at 2 h a day, one day after the last reading
    assert TODAY + timedelta(days=3) <= duty.likely <= TODAY + timedelta(days=6)


def test_refreshing_again_changes_nothing(in_farm, version):
    add_task(version)
    machine = add_machine(in_farm, version, hours_a_day=2)
    refresh(machine)
    before = Duty.objects.values().get()
    assert refresh(machine) == 0
    assert Duty.objects.values().get() == before
