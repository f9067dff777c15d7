"""The life of a work order, up to what is entered on it (test_closing.py)."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from fleet.core.errors import FleetError, NotAllowed, Stale, WrongState
from fleet.models import Hire
from servicing import workorders
from servicing.models import WorkOrder
from tests.factories import (
    DutyFactory,
    FaultFactory,
    IntervalFactory,
    MachineFactory,
    TaskFactory,
    TechnicianFactory,
)

NOON = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)


@pytest.fixture
def machine(in_farm):
    return in_farm.machine(tag="T-07", hours=Decimal(95))


@pytest.fixture
def duty(machine):
    duty = DutyFactory(
        machine=machine, mark_hours=Decimal(100), mark_on=date(2026, 9, 1), task__title="Change oil"
    )
    IntervalFactory(task=duty.task, every_hours=Decimal(100), late_allowance_hours=Decimal(10))
    return duty


@pytest.fixture
def technician(in_farm):
    return TechnicianFactory(member=in_farm.technician, hourly_rate=Decimal(40))


@pytest.fixture
def order(in_farm, machine, duty, technician):
    return workorders.plan(member=in_farm.manager, machine=machine, duties=[duty], technician=technician)


def shop(machine):
    machine.refresh_from_db()
    return machine.in_shop_since


def test_plan_numbers_the_order_and_keeps_the_marks(in_farm, stranger, machine, duty, technician):
    fault = FaultFactory(machine=machine, text="Oil leak at the front axle")
    first = workorders.plan(
        member=in_farm.manager,
        machine=machine,
        duties=[duty],
        faults=[fault],
        technician=technician,
        planned_for=date(2026, 5, 6),
        note=" bring the trailer ",
    )
    assert (first.number, first.state, first.revision, first.note) == (1, "planned", 1, "bring the trailer")
    work, put_right = first.lines.all()
    assert (work.duty, work.task, work.title) == (duty, duty.task, "Change oil")
    assert (work.mark_hours, work.mark_on, work.late_allowance_hours) == (100, date(2026, 9, 1), 10)
    assert put_right.title == "Put right: Oil leak at the front axle"
    assert list(put_right.faults.all()) == [fault]

    other = DutyFactory(machine=machine)
    assert workorders.plan(member=in_farm.owner, machine=machine, duties=[other]).number == 2
    with stranger.scope():
        theirs = DutyFactory(machine__organisation=stranger.organisation)
        assert workorders.plan(member=stranger.owner, machine=theirs.machine, duties=[theirs]).number == 1


def test_the_allowance_is_that_of_the_working_condition(in_farm, machine, duty):
    IntervalFactory(
        task=duty.task, condition="dust", every_hours=Decimal(50), late_allowance_hours=Decimal(5)
    )
    machine.condition = "dust"
    machine.save()
    order = workorders.plan(member=in_farm.manager, machine=machine, duties=[duty])
    assert order.lines.get().late_allowance_hours == 5


def test_lines_stand_in_the_order_of_work(in_farm, machine):
    version = DutyFactory(machine=machine).task.version
    duties = [
        DutyFactory(machine=machine, task=TaskFactory(version=version, engine=engine, title=engine))
        for engine in ("cold", "any", "warm")
    ]
    order = workorders.plan(member=in_farm.manager, machine=machine, duties=duties)
    # 20 min each: running the engine warm once is shorter than waiting for it to go cold
    assert [line.title for line in order.lines.all()] == ["cold", "any", "warm"]


def test_a_duty_or_fault_is_on_one_open_order_only(in_farm, machine, duty, order):
    fault = FaultFactory(machine=machine)
    with pytest.raises(
        FleetError, match=f"“Change oil” is on Order {order.number}, which is open"
    ) as refused:
        workorders.plan(member=in_farm.manager, machine=machine, duties=[duty], faults=[fault])
    assert refused.value.field == "duties"
    workorders.plan(member=in_farm.manager, machine=machine, faults=[fault])
    with pytest.raises(FleetError, match="which is open") as refused:
        workorders.plan(member=in_farm.manager, machine=machine, faults=[fault])
    assert refused.value.field == "faults"


def test_plan_refuses_what_is_not_the_machines_or_not_live(in_farm, machine, duty):
    plan = {"member": in_farm.manager, "machine": machine}
    elsewhere = DutyFactory(machine=MachineFactory(organisation=in_farm.organisation))
    with pytest.raises(FleetError, match="Choose only what belongs to T-07"):
        workorders.plan(duties=[elsewhere], **plan)
    with pytest.raises(FleetError, match="at least one"):
        workorders.plan(**plan)
    with pytest.raises(FleetError, match="twice"):
        workorders.plan(duties=[duty, duty], **plan)
    ended = DutyFactory(machine=machine, active=False)
    with pytest.raises(FleetError, match="no longer falls due on T-07"):
        workorders.plan(duties=[ended], **plan)
    machine.retired_on = date(2026, 1, 1)
    machine.save()
    with pytest.raises(FleetError, match="retired"):
        workorders.plan(duties=[duty], **plan)
    assert WorkOrder.objects.count() == 0


def test_licensed_work_goes_to_licensed_people_only(in_farm, machine, technician):
    duty = DutyFactory(machine=machine, task__skill="licensed", task__title="Refrigerant")
    plan = {"member": in_farm.manager, "machine": machine, "duties": [duty]}
    with pytest.raises(FleetError, match="“Refrigerant” is licensed work") as refused:
        workorders.plan(technician=technician, **plan)
    assert refused.value.field == "technician"
    order = workorders.plan(**plan)
    with pytest.raises(FleetError, match="licensed"):
        workorders.assign(order=order, member=in_farm.manager, revision=1, technician=technician)
    for starter in (in_farm.technician, in_farm.manager):
        with pytest.raises(FleetError, match="licensed"):
            workorders.start(order=order, member=starter, revision=1)
    technician.licensed = True
    technician.save()
    started = workorders.start(order=order, member=in_farm.technician, revision=1)
    assert (started.state, started.technician) == ("started", technician)


def test_assign_changes_who_and_when(in_farm, order):
    moved = workorders.assign(
        order=order, member=in_farm.manager, revision=1, technician=None, planned_for=date(2026, 5, 9)
    )
    assert (moved.technician, moved.planned_for, moved.revision) == (None, date(2026, 5, 9), 2)


def test_start_hold_resume_cancel_and_the_machine_in_the_shop(in_farm, machine, order):
    started = workorders.start(order=order, member=in_farm.technician, revision=1, now=NOON)
    assert (started.state, started.started_at, started.revision) == ("started", NOON, 2)
    assert shop(machine) == NOON
    with pytest.raises(FleetError, match="what it is waiting for"):
        workorders.hold(order=order, member=in_farm.technician, revision=2, reason=" ")
    waits = workorders.hold(order=order, member=in_farm.technician, revision=2, reason="oil filter")
    assert (waits.state, waits.hold_reason) == ("on hold", "oil filter")
    assert shop(machine) == NOON, "a machine that waits for a part may be half apart"
    resumed = workorders.resume(order=order, member=in_farm.technician, revision=3)
    assert (resumed.state, resumed.hold_reason, resumed.started_at) == ("started", "", NOON)
    cancelled = workorders.cancel(order=order, member=in_farm.manager, revision=4, reason="sold")
    assert (cancelled.state, cancelled.cancel_reason, cancelled.revision) == ("cancelled", "sold", 5)
    assert shop(machine) is None
    assert not cancelled.lines.get().open


def test_the_machine_stays_in_the_shop_for_its_other_order(in_farm, machine, order):
    second = workorders.plan(member=in_farm.manager, machine=machine, duties=[DutyFactory(machine=machine)])
    workorders.start(order=order, member=in_farm.technician, revision=1, now=NOON)
    workorders.start(order=second, member=in_farm.technician, revision=1)
    workorders.cancel(order=second, member=in_farm.manager, revision=2, reason="not now")
    assert shop(machine) == NOON


def test_an_order_put_on_hold_before_it_was_started_keeps_no_machine(in_farm, machine, order):
    workorders.hold(order=order, member=in_farm.technician, revision=1, reason="filter ordered")
    assert shop(machine) is None


def test_cancelled_work_can_be_planned_again(in_farm, machine, duty, order):
    workorders.cancel(order=order, member=in_farm.manager, revision=1, reason="rain")
    assert workorders.plan(member=in_farm.manager, machine=machine, duties=[duty]).number == 2


def test_a_machine_out_on_hire_cannot_be_started(in_farm, machine, order):
    Hire.objects.create(
        organisation=in_farm.organisation,
        machine=machine,
        hirer="Birch & Son",
        out_at=NOON,
        hours_out=Decimal(95),
    )
    with pytest.raises(WrongState, match="T-07 is out on hire with Birch & Son"):
        workorders.start(order=order, member=in_farm.technician, revision=1)
    assert shop(machine) is None


def test_a_stale_revision_says_what_happened(in_farm, order):
    workorders.start(order=order, member=in_farm.technician, revision=1)
    with pytest.raises(Stale, match=f"it is started, with {order.technician}") as refused:
        workorders.start(order=order, member=in_farm.technician, revision=1)
    assert refused.value.revision == 2
    workorders.hold(order=order, member=in_farm.technician, revision=2, reason="oil filter")
    with pytest.raises(Stale, match=r"it is on hold \(oil filter\)"):
        workorders.cancel(order=order, member=in_farm.manager, revision=2, reason="x")


@pytest.mark.parametrize(
    ("process", "state"),
    [("start", "started"), ("resume", "planned"), ("hold", "cancelled"), ("assign", "cancelled")],
)
def test_what_the_state_does_not_allow(in_farm, order, process, state):
    if state == "started":
        workorders.start(order=order, member=in_farm.technician, revision=1)
    if state == "cancelled":
        workorders.cancel(order=order, member=in_farm.manager, revision=1, reason="rain")
    order.refresh_from_db()
    more = {"hold": {"reason": "x"}, "assign": {"technician": None}}.get(process, {})
    with pytest.raises(WrongState, match=f"it (is|was) {state}") as refused:
        getattr(workorders, process)(order=order, member=in_farm.manager, revision=order.revision, **more)
    assert refused.value.revision == order.revision


PLANNERS, WORKERS = {"owner", "manager"}, {"owner", "manager", "technician"}


@pytest.mark.parametrize("role", ["owner", "manager", "technician", "counter"])
@pytest.mark.parametrize(
    ("process", "allowed", "more"),
    [
        ("assign", PLANNERS, {"technician": None}),
        ("start", WORKERS, {}),
        ("hold", WORKERS, {"reason": "x"}),
        ("cancel", PLANNERS, {"reason": "x"}),
    ],
)
def test_who_may(in_farm, order, role, process, allowed, more):
    call = {"order": order, "member": getattr(in_farm, role), "revision": 1, **more}
    if role in allowed:
        assert getattr(workorders, process)(**call).revision == 2
    else:
        with pytest.raises(NotAllowed):
            getattr(workorders, process)(**call)


@pytest.mark.parametrize("role", ["technician", "counter"])
def test_who_may_not_plan(in_farm, machine, duty, role):
    with pytest.raises(NotAllowed):
        workorders.plan(member=getattr(in_farm, role), machine=machine, duties=[duty])


def test_a_strangers_machine_is_refused(in_farm, stranger, machine, duty, order):
    with pytest.raises(NotAllowed):
        workorders.plan(member=stranger.owner, machine=machine, duties=[duty])
    with pytest.raises(NotAllowed):
        workorders.cancel(order=order, member=stranger.owner, revision=1, reason="x")
