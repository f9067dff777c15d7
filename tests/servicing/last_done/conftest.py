"""A used machine: it came with 3240 h, was read since, and nobody has said what was done before."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from fleet.models import Machine
from servicing.last_done.asked import sheets
from servicing.last_done.say import Statement, say
from servicing.last_done.typed import read_cell
from servicing.models import Duty
from tests.factories import ReadingFactory
from tests.servicing.duties.program_machines import NOW, add_task, build_version, refresh, set_hours


@pytest.fixture
def version(farm):
    """Oil by hours, grease by hours or months, brakes by months, a running-in task."""
    with farm.scope():
        version = build_version(farm)
        add_task(version, "oil", every_hours=Decimal(100))
        add_task(version, "grease", every_hours=Decimal(250), every_months=6)
        add_task(version, "brakes", every_hours=None, every_months=12)
        add_task(version, "first", every_hours=None, first_hours=Decimal(50), once=True)
        for code in ("oil", "grease", "brakes", "first"):
            version.tasks.filter(code=code).update(title=f"Task {code}")
    return version


@pytest.fixture
def used(farm, version):
    """Make a machine that came on 1 March 2024, read at these hours on these days."""

    def make(tag="T-07", *, readings=((datetime(2025, 12, 1, 9, tzinfo=UTC), 3240),), **facts):
        with farm.scope():
            machine = farm.machine(
                tag=tag, type=version.program.machine_type, **{"in_service_on": date(2024, 3, 1)} | facts
            )
            for at, hours in readings:
                ReadingFactory(machine=machine, taken_at=at, shows=Decimal(hours))
            if readings:
                set_hours(machine, readings[-1][1], at=readings[-1][0])
        return machine

    return make


@pytest.fixture
def cell():
    """The cell of a task of a machine, by the end of its code."""

    def find(machine, code):
        (sheet,) = sheets([machine.pk])
        return next(each for each in sheet.cells.values() if each.task.code == code)

    return find


@pytest.fixture
def tell(cell, farm):
    """Say what a person would write into a cell, and refresh; the duty that comes of it."""

    def write(machine, code, text, *, member=None, order="dmy"):
        say(
            statements=[Statement(cell(machine, code), read_cell(text, order))],
            member=member or farm.manager,
            now=NOW,
        )
        refresh(Machine.objects.get(pk=machine.pk), now=NOW)
        return Duty.objects.get(machine=machine, task__code=code)

    return write
