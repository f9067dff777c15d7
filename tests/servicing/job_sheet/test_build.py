"""The job sheet built from an order's own rows.

Merging is checked in planning/test_sheet.py, the order of work in planning/test_route.py.
"""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from servicing import workorders
from servicing.job_sheet import build, order_of_work
from servicing.job_sheet.build import build_job_sheet
from servicing.measurements.previous_values import Last
from servicing.models import CheckResult, WorkOrder
from tests.factories import (
    CheckFactory,
    DutyFactory,
    FaultFactory,
    LineFactory,
    MachineFactory,
    PartFactory,
    ProgramVersionFactory,
    TaskFactory,
    WorkOrderFactory,
)


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
        faults=[FaultFactory(machine=machine, text="Horn is silent")],
    )


def test_work_stands_in_order_with_its_covers(order):
    built = build_job_sheet(order)
    assert [(row.number, row.line.title, row.place, row.opens, row.closes) for row in built.lines] == [
        (1, "Fan belt", "front", ("bonnet",), ("bonnet",)),
        (2, "Engine oil", "engine right", ("bonnet",), ()),
        (3, "Wheel bolts", "left side", (), ()),
        (4, "Put right: Horn is silent", "", (), ()),
    ]


def test_what_drains_is_left_for_other_work_and_gone_back_to(order):
    belt, oil, bolts, fault = build_job_sheet(order).lines
    assert (oil.meanwhile, bolts.back) == ((3,), build.Return(2, oil.line, 0, ("bonnet",)))
    assert [row.back for row in (belt, oil, fault)] == [None, None, None]
    # belt: 2 min to open, 20; half a minute to the next place, 15 to warm up with the bonnet shut: 37.5;
    # oil: 15 to begin, half a minute to the wheels: 53
    assert [(row.begins, row.warm_up, row.idle) for row in (belt, oil, bolts, fault)] == [
        (2, 0, 0),
        (37, 15, 0),
        (53, 0, 0),
        (None, 0, 0),
    ]


def test_a_task_that_may_run_the_engine_is_not_done_while_oil_is_out(order):
    bolts = order.lines.get(task__title="Wheel bolts").task
    bolts.runs = True
    bolts.save()
    assert [row.meanwhile for row in build_job_sheet(order).lines] == [(), (), (), ()]


@pytest.mark.parametrize(("runs", "may"), [(True, True), (False, False), (None, True)])
def test_what_is_not_known_to_leave_the_engine_off_may_run_it(in_farm, runs, may):
    task = TaskFactory(runs=runs, steps=["Drive worn teeth out, start each new one by hand."])
    (visit,) = order_of_work.route([(task.pk, task)]).visits
    assert visit.job.runs is may


def test_the_sheet_and_the_order_stand_alike(order):
    assert [row.line.pk for row in build_job_sheet(order).lines] == [line.pk for line in order.lines.all()]


def test_one_list_of_everything(order):
    built = build_job_sheet(order)
    assert built.prepare == ["key out"]
    assert [row.prepare for row in built.lines] == [(), ("Warm it up",), (), ()]  # not while cold work is on
    # 90 lbf·ft is 122 N·m (NIST SP 811), more than the 60 N·m that the oil plug asks for
    assert [str(tool) for tool in built.tools] == ["socket 17, 21 mm", "torque wrench to at least 90 lbf·ft"]
    assert [(row.quantity, row.short) for row in built.supplies] == [(Decimal("4.6"), Decimal("0.6"))]
    assert built.short == built.supplies
    assert (built.minutes, built.wait_minutes) == (65, 15)
    # 65 hands on, 15 to run it warm, 2 for the bonnet, 1.5 of walking (three ways of one place)
    assert (built.elapsed_minutes, built.idle_minutes) == (84, 0)
    assert built.standing == "Let the engine cool before you begin: about 3 hours after its last run."
    assert built.manual_pages == [("4-2", "Engine oil")]


def test_a_caution_stands_before_the_step_it_belongs_to(order):
    oil = build_job_sheet(order).lines[1]
    assert [caution.text for caution in oil.first] == ["Chock the wheels."]
    assert [(step.text, [caution.text for caution in step.cautions]) for step in oil.steps] == [
        ("Put the pan under.", []),
        ("Take the plug out.", ["Hot oil."]),
        ("Fill.", ["Wipe spills up."]),
    ]


@pytest.mark.parametrize(("units", "hint"), [("metric", "about 108 to 122 N·m"), ("us", "")])
def test_limits_are_told_in_the_units_of_the_manual_and_roughly_in_the_readers(order, units, hint):
    order.organisation.units = units
    (check,) = build_job_sheet(order).lines[2].checks
    assert (check.limit, check.hint) == ("80 to 90 lbf·ft", hint)


# ---- the values of the last time


def closed(order, on, hours):
    WorkOrder.objects.filter(pk=order.pk).update(
        state="closed", closed_at=on, closed_by=order.made_by, hours_at_close=hours
    )


def result(order, check, found, left=None):
    line = order.lines.get(task=check.task)
    return CheckResult.objects.create(
        organisation=order.organisation,
        line=line,
        check_made=check,
        kind="torque",
        label=check.label,
        unit=check.unit,
        found_value=Decimal(found),
        found_unit="lbf·ft",
        found_passes=True,
        left_value=left and Decimal(left),
        left_unit="lbf·ft" if left else "",
        left_passes=True if left else None,
    )


def earlier(order, number, machine=None):
    """Another order of the same tasks."""
    machine = machine or order.machine
    made = WorkOrderFactory(machine=machine, made_by=order.made_by, number=number)
    for line in order.lines.exclude(task=None):
        LineFactory(order=made, task=line.task, title=line.title, open=False)
    return made


def test_the_values_of_the_last_closed_order_stand_beside_a_check(order):
    check = order.lines.get(task__title="Wheel bolts").task.checks.get()
    for day, hours, found, left in ((3, 900, "70", "85"), (20, 1000, "82", None), (9, 950, "60", None)):
        before = earlier(order, 500 + day)
        result(before, check, found, left)
        closed(before, datetime(2026, 3, day, 23, 30, tzinfo=UTC), hours)
    other = earlier(order, 600, MachineFactory(organisation=order.organisation))
    result(other, check, "99")
    closed(other, datetime(2026, 4, 1, tzinfo=UTC), 10)
    still_open = earlier(order, 601)
    result(still_open, check, "98")
    order.machine.yard.zone = "Europe/Berlin"  # where the 20th ended an hour ago
    (each,) = build_job_sheet(order).lines[2].checks
    assert each.last == Last("82 lbf·ft", "", True, date(2026, 3, 21), Decimal("1000.00"), 520)


def test_the_last_values_are_found_across_versions_of_the_program(order):
    check = order.lines.get(task__title="Wheel bolts").task.checks.get()
    version = check.task.version
    old = ProgramVersionFactory(program=version.program, number=9, state="retired")
    task = TaskFactory(version=old, code=check.task.code, title="Bolts, as it was called")
    same = CheckFactory(
        task=task, code=check.code, kind="torque", unit="lbf·ft", lower=Decimal(60), upper=None
    )
    before = WorkOrderFactory(machine=order.machine, made_by=order.made_by, number=77)
    LineFactory(order=before, task=task, open=False)
    result(before, same, "70", "85.5")
    closed(before, datetime(2026, 3, 3, 12, tzinfo=UTC), 900)
    (each,) = build_job_sheet(order).lines[2].checks
    assert (each.last.found, each.last.left, each.last.order) == ("70 lbf·ft", "85.5 lbf·ft", 77)


def test_a_machine_without_a_past_has_no_last_values(order):
    assert [each.last for row in build_job_sheet(order).lines for each in row.checks] == [None]


def test_a_sheet_asks_as_many_queries_for_many_lines_as_for_two(order, django_assert_num_queries):
    build_job_sheet(order)  # its machine and yard are known from here on
    with CaptureQueriesContext(connection) as asked:
        build_job_sheet(order)
    version = order.lines.get(task__title="Fan belt").task.version
    for number in range(5):
        task = TaskFactory(version=version, place="front", title=f"More {number}")
        CheckFactory(task=task)
        task.cautions.create(organisation=task.organisation, hazard="hot", text="Hot.")
        LineFactory(order=order, task=task)
    with django_assert_num_queries(len(asked)):
        assert len(build_job_sheet(order).lines) == 9
