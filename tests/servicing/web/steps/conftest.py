"""An order of two tasks, to be worked step by step."""

from decimal import Decimal

import pytest

from servicing import workorders
from tests.factories import CheckFactory, DutyFactory, IntervalFactory


@pytest.fixture
def belt(farm, machine):
    """Three instructions, a caution before the second, one measured check."""
    duty = DutyFactory(machine=machine, mark_hours=Decimal(1000), task__title="Fan belt")
    task = duty.task
    task.steps = ["Take the guard off.", "Press in the middle.", "Measure how far it gives."]
    task.prepare = ["Key out."]
    task.save()
    ours = {"organisation": machine.organisation}
    with farm.scope():
        task.cautions.create(hazard="pinch", text="Fan and belt pinch.", before_step=2, **ours)
        task.tools.create(tool="steel rule", **ours)
    IntervalFactory(task=task)
    CheckFactory(task=task, label="Belt deflection", unit="mm", lower=Decimal(7), upper=Decimal("7.62"))
    return duty


@pytest.fixture
def brake(machine):
    """One instruction, one safety check in words."""
    duty = DutyFactory(machine=machine, mark_hours=Decimal(1000), task__title="Parking brake")
    duty.task.steps = ["Set the brake on the slope."]
    duty.task.save()
    IntervalFactory(task=duty.task)
    words = {"kind": "function", "unit": "", "lower": None, "upper": None}
    CheckFactory(task=duty.task, label="Brake holds", safety=True, **words)
    return duty


@pytest.fixture
def started(farm, machine, belt, brake, technician):
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=machine, duties=[belt, brake])
        return workorders.start(order=order, member=farm.technician, revision=1)
