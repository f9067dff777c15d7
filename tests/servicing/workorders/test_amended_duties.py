"""Marks, fitments and faults follow a correction."""

from datetime import date, timedelta
from decimal import Decimal as D

import pytest

from fleet.machines import attachments
from servicing import workorders
from servicing.duties.refresh import refresh_duties
from servicing.models import Line
from servicing.workorders import Entries, LineEntry
from tests.factories import DutyFactory, FaultFactory, FitmentFactory, IntervalFactory, ReadingFactory
from tests.servicing.workorders.corrections import CLOSED, amend, close_with
from tests.servicing.workorders.work import LATER, duty_at_1000, started

pytestmark = pytest.mark.time_machine(CLOSED, tick=False)


def test_work_that_was_not_done_gives_the_mark_back(in_farm, machine, belt):
    belt.last_hours = belt.met_hours = D(900)
    belt.last_on = date(2026, 1, 7)
    belt.save()
    order = close_with(in_farm, started(in_farm, machine, belt), found="8")
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.last_hours) == (1100, 1004)

    line = order.lines.get()
    left = Entries(lines=[LineEntry(line.pk, "deferred", "No belt in stock.", LATER)])
    amend(order, in_farm.manager, entered=left)
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.last_hours, belt.met_hours) == (1000, 900, 900)
    assert belt.last_on == date(2026, 1, 7)
    assert (belt.deferred_until, belt.deferred_reason, belt.likely) == (LATER, "No belt in stock.", None)
    line.refresh_from_db()
    assert (line.outcome, line.done_hours, line.done_on) == ("deferred", None, None)
    machine.refresh_from_db()
    assert machine.projection_wanted_at is not None
    refresh_duties(machine_ids=[machine.pk])
    belt.refresh_from_db()
    assert belt.mark_hours == 1000


def test_work_that_was_done_after_all_moves_the_mark(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    order = close_with(in_farm, order, outcome="deferred", reason="No belt.", deferred_until=LATER)
    amend(order, in_farm.technician, outcome="done", found="8")
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.last_hours, belt.last_on) == (1100, 1004, date(2026, 5, 4))
    assert (belt.deferred_until, belt.deferred_reason) == (None, "")


def test_left_long_ago_can_be_corrected_when_its_day_has_passed(in_farm, machine, belt, time_machine):
    order = started(in_farm, machine, belt)
    order = close_with(in_farm, order, outcome="deferred", reason="No belt.", deferred_until=LATER)
    time_machine.move_to(CLOSED + timedelta(days=60))
    amend(
        order,
        in_farm.manager,
        outcome="deferred",
        reason="No belt.",
        deferred_until=LATER,
        note="Belt ordered.",
    )
    belt.refresh_from_db()
    assert (belt.deferred_until, belt.mark_hours) == (LATER, 1000)


def test_a_once_only_task_that_was_not_done_is_due_again(in_farm, machine):
    duty = DutyFactory(machine=machine, mark_hours=D(1000), task__title="First oil change")
    IntervalFactory(task=duty.task, every_hours=None, first_hours=D(1000), once=True)
    order = close_with(in_farm, started(in_farm, machine, duty))
    duty.refresh_from_db()
    assert not duty.active
    amend(order, in_farm.manager, outcome="deferred", reason="No oil.", deferred_until=LATER)
    duty.refresh_from_db()
    assert (duty.active, duty.mark_hours, duty.last_hours) == (True, 1000, None)


def test_the_orders_closed_since_take_effect_again_after_the_corrected_one(
    in_farm, machine, belt, time_machine
):
    first = close_with(in_farm, started(in_farm, machine, belt), found="8")
    time_machine.move_to(CLOSED + timedelta(days=20))
    machine.refresh_from_db()
    belt.refresh_from_db()
    second = close_with(in_farm, started(in_farm, machine, belt), found="8", hours="1090")
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.met_hours, belt.last_hours) == (1190, 1100, 1090)

    # the first was not done: the second, at 1090 h, then met the mark at 1000 (14 CFR 91.409(b): late
    # hours count into the next 100)
    amend(first, in_farm.manager, outcome="deferred", reason="No belt.", deferred_until=LATER)
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.met_hours, belt.last_hours) == (1100, 1000, 1090)
    assert (belt.deferred_until, belt.last_on) == (None, date(2026, 5, 24))

    # and back: as if nothing had happened
    first.refresh_from_db()
    amend(first, in_farm.manager, outcome="done", found="8")
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.met_hours, belt.last_hours) == (1190, 1100, 1090)
    second.refresh_from_db()
    assert second.lines.get().done_hours == 1090


def test_an_order_closed_before_the_duty_was_kept_goes_by_the_work_before_it(
    in_farm, machine, belt, time_machine
):
    close_with(in_farm, started(in_farm, machine, belt), found="8")
    time_machine.move_to(CLOSED + timedelta(days=20))
    belt.refresh_from_db()
    second = close_with(in_farm, started(in_farm, machine, belt), found="8", hours="1104")
    Line.objects.update(duty_before=None)
    amend(second, in_farm.manager, outcome="deferred", reason="No belt.", deferred_until=date(2026, 6, 20))
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.last_hours, belt.met_hours) == (1100, 1004, 1000)


def test_not_fitted_taken_back_puts_the_fitment_and_its_task_back(in_farm, machine):
    loader = FitmentFactory(organisation=in_farm.organisation, name="loader")
    machine.fitments.add(loader)
    duty = duty_at_1000(machine, "Grease the loader")
    duty.task.needs.add(loader)
    order = close_with(in_farm, started(in_farm, machine, duty), outcome="not fitted")
    duty.refresh_from_db()
    assert (duty.active, machine.fitments.count()) == (False, 0)

    amend(order, in_farm.manager, outcome="done")
    duty.refresh_from_db()
    assert (duty.active, duty.mark_hours, list(machine.fitments.all())) == (True, 1100, [loader])

    order.refresh_from_db()
    amend(order, in_farm.manager, outcome="not fitted")
    duty.refresh_from_db()
    assert (duty.active, duty.last_hours, machine.fitments.count()) == (False, None, 0)


def test_a_fault_said_to_be_put_right_is_open_again(in_farm, machine):
    fault = FaultFactory(machine=machine, text="Hose leaks")
    order = workorders.plan(member=in_farm.manager, machine=machine, faults=[fault])
    order = workorders.start(order=order, member=in_farm.technician, revision=1)
    order = close_with(in_farm, order)
    fault.refresh_from_db()
    assert fault.fixed_at == CLOSED
    amend(order, in_farm.manager, outcome="referred", reason="Needs a press.")
    fault.refresh_from_db()
    assert fault.fixed_at is None
    order.refresh_from_db()
    amend(order, in_farm.manager, outcome="done")
    fault.refresh_from_db()
    assert fault.fixed_at == CLOSED


def test_an_attachments_work_keeps_the_hours_it_had_then(in_farm, machine, time_machine):
    loader = in_farm.attachment(hours_before=D(200))
    attachments.mount(
        attachment=loader, machine=machine, member=in_farm.manager, at=CLOSED - timedelta(days=5)
    )
    duty = DutyFactory(machine=loader.machine_ptr, mark_hours=D(200), task__title="Grease pins")
    IntervalFactory(task=duty.task, every_hours=D(50))
    order = close_with(in_farm, started(in_farm, machine, duty))
    at_close = order.lines.get().done_hours
    assert at_close > 200

    time_machine.move_to(CLOSED + timedelta(days=10))
    ReadingFactory(machine=machine, taken_at=CLOSED + timedelta(days=9), shows=D(1060))
    amend(order, in_farm.manager, note="Two pins dry.")
    assert order.lines.get().done_hours == at_close
    duty.refresh_from_db()
    assert duty.last_hours == at_close
