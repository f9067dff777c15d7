"""The job sheet built from an order's own rows; merging and order are checked in planning/test_sheet.py."""

from decimal import Decimal

import pytest

from servicing import sheet, workorders
from tests.factories import CheckFactory, DefectFactory, DutyFactory, MachineFactory, PartFactory, TaskFactory


@pytest.fixture
def order(in_farm):
    """Engine oil (warm) and fan belt (cold) behind the bonnet, wheel bolts (any), one fault."""
    machine = MachineFactory(organisation=in_farm.organisation)
    oil = TaskFactory(
        version=DutyFactory(machine=machine, active=False).task.version,
        title="Engine oil",
        engine="warm",
        place="engine-right",
        opens=["bonnet"],
        minutes=30,
        wait_minutes=15,
        prepare=["Key out.", "Warm it up"],
        steps=["Put the pan under.", "Take the plug out.", "Fill."],
        manual_page="4-2",
    )
    oil.version.program.round = ["front", "engine-right", "left-side"]
    oil.version.program.save()
    belt = TaskFactory(
        version=oil.version,
        title="Fan belt",
        engine="cold",
        place="front",
        opens=["bonnet"],
        prepare=["key out"],
    )
    bolts = TaskFactory(version=oil.version, title="Wheel bolts", place="left-side", minutes=15)
    own = {"organisation": in_farm.organisation}
    part = PartFactory(unit="L", in_stock=Decimal(4), **own)
    for task, quantity in ((oil, "4.5"), (belt, "0.1")):
        task.supplies.create(part=part, quantity=Decimal(quantity), **own)
    oil.tools.create(tool="torque wrench", size="to 60 N·m", **own)
    bolts.tools.create(tool="socket", size="21 mm", **own)
    belt.tools.create(tool="socket", size="17 mm", **own)
    CheckFactory(
        task=bolts, kind="torque", label="Bolts", unit="lbf·ft", lower=Decimal(80), upper=Decimal(90)
    )
    oil.cautions.create(hazard="hot", text="Hot oil.", before_step=2, **own)
    oil.cautions.create(hazard="lifted", text="Chock the wheels.", before_step=0, **own)
    oil.cautions.create(hazard="fuel", text="Wipe spills up.", before_step=9, **own)
    return workorders.plan(
        member=in_farm.manager,
        machine=machine,
        duties=[DutyFactory(machine=machine, task=task) for task in (bolts, belt, oil)],
        defects=[DefectFactory(machine=machine, text="Horn is silent")],
    )


def test_work_stands_in_order_with_its_covers(order):
    built = sheet.build(order)
    assert [(row.line.title, row.place, row.opens, row.closes) for row in built.lines] == [
        ("Engine oil", "engine right", ("bonnet",), ("bonnet",)),
        ("Wheel bolts", "left side", (), ()),
        ("Put right: Horn is silent", "", (), ()),
        ("Fan belt", "front", ("bonnet",), ("bonnet",)),
    ]


def test_one_list_of_everything(order):
    built = sheet.build(order)
    assert built.prepare == ["Key out.", "Warm it up"]
    # 90 lbf·ft is 122 N·m (NIST SP 811), more than the 60 N·m that the oil plug asks for
    assert [str(tool) for tool in built.tools] == ["socket 17, 21 mm", "torque wrench up to 90 lbf·ft"]
    assert [(row.quantity, row.short) for row in built.supplies] == [(Decimal("4.6"), Decimal("0.6"))]
    assert built.short == built.supplies
    assert (built.minutes, built.wait_minutes) == (65, 15)
    assert built.manual_pages == [("4-2", "Engine oil")]


def test_a_caution_stands_before_the_step_it_belongs_to(order):
    oil = sheet.build(order).lines[0]
    assert [caution.text for caution in oil.first] == ["Chock the wheels."]
    assert [(step.text, [caution.text for caution in step.cautions]) for step in oil.steps] == [
        ("Put the pan under.", []),
        ("Take the plug out.", ["Hot oil."]),
        ("Fill.", ["Wipe spills up."]),
    ]


@pytest.mark.parametrize(("units", "hint"), [("metric", "about 108 to 122 N·m"), ("us", "")])
def test_limits_are_told_in_the_units_of_the_manual_and_roughly_in_the_readers(order, units, hint):
    order.organisation.units = units
    (check,) = sheet.build(order).lines[1].checks
    assert (check.limit, check.hint) == ("80 to 90 lbf·ft", hint)
