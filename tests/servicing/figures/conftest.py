"""A farm that entered nothing: a task without minutes that needs a part without a cost, and so on."""

from decimal import Decimal
from types import SimpleNamespace

import pytest
from django_scopes import scopes_disabled

from tests.cast import House
from tests.factories import (
    IntervalFactory,
    PartFactory,
    ProgramFactory,
    ProgramVersionFactory,
    TaskFactory,
    TechnicianFactory,
)


def entered_nothing(house: House) -> SimpleNamespace:
    """One of each that lacks its figure, and `draft_task` of the same code in the program's draft."""
    machine = house.machine(tag="T-01")
    version = ProgramVersionFactory(
        program=ProgramFactory(organisation=house.organisation, machine_type=machine.type, title="HX plan")
    )
    task = due_task(version, title="Change engine oil", code="oil")
    part = PartFactory(organisation=house.organisation, number="HX-1", name="Oil filter", unit_cost=0)
    with scopes_disabled():
        task.supplies.create(organisation=house.organisation, part=part, quantity=Decimal(1))
    draft = ProgramVersionFactory(program=version.program, number=2, state="draft")
    return SimpleNamespace(
        machine=machine,
        version=version,
        task=task,
        part=part,
        draft_task=due_task(draft, title="Engine oil", code="oil"),
        technician=TechnicianFactory(member=house.technician, hourly_rate=0),
    )


def due_task(version, *, minutes=0, every="100", **facts):
    """A task that falls due every so many hours."""
    task = TaskFactory(version=version, minutes=minutes, **facts)
    IntervalFactory(task=task, every_hours=Decimal(every))
    return task


@pytest.fixture
def lacking(farm):
    """What the farm lacks."""
    return entered_nothing(farm)
