"""A failed safety check tags the machine out, and once."""

from decimal import Decimal as D

import pytest

from fleet.models import Reading, TagOut
from servicing import workorders
from servicing.models import CheckResult
from servicing.workorders import Entries, LineEntry, PartEntry
from tests.factories import PartFactory
from tests.servicing.workorders.work import LATER, NOW, check, close, entries, problems, started

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_a_failed_safety_check_tags_the_machine_out_at_once(in_farm, machine, brake, belt):
    order = started(in_farm, machine, brake, belt)
    brake_line, belt_line = order.lines.get(duty=brake), order.lines.get(duty=belt)
    entered = Entries(
        lines=[
            LineEntry(brake_line.pk, "done", checks=[check(brake_line, "fails", left="fails")]),
            LineEntry(belt_line.pk, "done", checks=[check(belt_line, "8")]),
        ],
        hours=D(1004),
    )
    close(in_farm, order, entered)
    tag_out = TagOut.objects.get(machine=machine)
    assert tag_out.reason == f"Order {order.number}, check failed: Brake holds: fails"
    assert tag_out.placed_by == in_farm.technician
    machine.refresh_from_db()
    assert machine.state == "tagged out"


def test_a_safety_check_put_right_tags_nothing_out(in_farm, machine, brake):
    order = started(in_farm, machine, brake)
    close(in_farm, order, entries(order, ("fails", "", "passes"), outcome="adjusted"))
    assert not TagOut.objects.exists()


@pytest.mark.parametrize("outcome", ["deferred", "referred"])
def test_a_safety_check_that_failed_on_work_left_tags_out_too(in_farm, machine, brake, outcome):
    order = started(in_farm, machine, brake)
    line = order.lines.get()
    entry = LineEntry(line.pk, outcome, "no linings", LATER, checks=[check(line, "fails")])
    close(in_farm, order, Entries(lines=[entry], hours=D(1004)))
    assert TagOut.objects.get().machine == machine


def test_a_task_may_say_that_outside_the_limits_the_machine_is_tagged_out(in_farm, machine, belt):
    belt.task.outside = "tag_out"
    belt.task.save()
    order = started(in_farm, machine, belt)
    close(in_farm, order, entries(order, ("11", "", "10")))
    assert TagOut.objects.get().reason.endswith("Belt deflection: 10 mm (limit 7 to 9 mm)")


def test_a_failed_safety_check_stands_when_the_order_is_cancelled(in_farm, machine, brake):
    order = started(in_farm, machine, brake)
    order = workorders.record(
        order=order, member=in_farm.technician, revision=2, entries=entries(order, ("fails",), hours=None)
    )
    workorders.cancel(order=order, member=in_farm.manager, revision=3, reason="wrong machine")
    assert "Brake holds" in TagOut.objects.open().get(machine=machine).reason


def test_a_safety_check_recorded_as_failed_tags_out_once_before_the_order_is_closed(in_farm, machine, brake):
    order = started(in_farm, machine, brake)
    failed = entries(order, ("fails",), hours=None)
    order = workorders.record(order=order, member=in_farm.technician, revision=2, entries=failed)
    assert order.state == "started"
    placed = TagOut.objects.get()
    assert (placed.machine, placed.placed_by) == (machine, in_farm.technician)
    assert placed.reason == f"Order {order.number}, check failed: Brake holds: fails"
    order = workorders.record(order=order, member=in_farm.manager, revision=3, entries=failed)
    close(in_farm, order, entries(order, ("fails", "", "fails")))
    assert TagOut.objects.get() == placed, "the same failure is one tag-out"


def test_a_safety_check_that_fails_again_after_it_passed_is_tagged_out_throughout(in_farm, machine, brake):
    order = started(in_farm, machine, brake)
    for found, left in (("fails", ""), ("fails", "passes"), ("fails", "fails")):
        order = workorders.record(
            order=order,
            member=in_farm.technician,
            revision=order.revision,
            entries=entries(order, (found, "", left), hours=None),
        )
        assert TagOut.objects.open().count() == 1, "only the re-test clears it"


def test_a_refused_closing_leaves_no_trace_but_the_failed_safety_check(in_farm, machine, brake, belt):
    order = started(in_farm, machine, brake, belt)
    brake_line = order.lines.get(duty=brake)
    part = PartFactory(organisation=in_farm.organisation, in_stock=D(5))
    entered = Entries(
        lines=[LineEntry(brake_line.pk, "done", checks=[check(brake_line, "fails", left="fails")])],
        parts=[PartEntry(part.pk, D(1))],
        hours=D(1004),
    )
    assert list(problems(in_farm, order, entered)) == [f"lines-{order.lines.get(duty=belt).pk}-outcome"]
    part.refresh_from_db()
    machine.refresh_from_db()
    assert part.in_stock == 5
    assert machine.hours == 1000
    assert not Reading.objects.filter(source="order").exists()
    assert set(order.lines.values_list("outcome", flat=True)) == {""}
    assert TagOut.objects.get().reason.endswith("Brake holds: fails")
    assert CheckResult.objects.get().label == "Brake holds"
