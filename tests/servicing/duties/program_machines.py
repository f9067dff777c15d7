"""Machines of a program that run evenly, and their refresh."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from fleet.models import Machine
from servicing.duties.refresh import refresh_duties
from tests.factories import (
    IntervalFactory,
    MachineTypeFactory,
    ProgramFactory,
    ProgramVersionFactory,
    ReadingFactory,
    TaskFactory,
)

NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
TODAY = date(2026, 6, 1)
BEGAN = datetime(2026, 1, 1, tzinfo=UTC)


def build_version(farm, number=1, *, program=None, **kwargs):
    if program is None:
        program = ProgramFactory(
            organisation=farm.organisation, machine_type=MachineTypeFactory(organisation=farm.organisation)
        )
    return ProgramVersionFactory(program=program, number=number, made_at=BEGAN, **kwargs)


def add_task(version, code="engine-oil", *, needs=(), without=(), **interval):
    task = TaskFactory(version=version, code=code)
    IntervalFactory(task=task, **{"every_hours": Decimal(100), **interval})
    task.needs.set(needs)
    task.without.set(without)
    return task


def add_machine(farm, version, *, hours_a_day=0, days=120, **kwargs):
    """A machine with a reading each week for so many days up to yesterday, running evenly."""
    machine = farm.machine(type=version.program.machine_type, **kwargs)
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
    return refresh_duties(machine_ids=[machine.pk for machine in machines], **kwargs)
