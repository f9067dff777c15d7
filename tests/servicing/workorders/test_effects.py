"""What a closed line does: fitments, faults, stock and cost."""

from dataclasses import replace
from decimal import Decimal as D

import pytest

from servicing.ledger.costs import cost
from servicing.workorders import Entries, LabourEntry, LineEntry, PartEntry
from tests.factories import FaultFactory, FitmentFactory, PartFactory, TechnicianFactory
from tests.servicing.workorders.work import LATER, NOW, close, entries, problems, started

pytestmark = pytest.mark.time_machine(NOW, tick=False)


# ------------------------------------------------------------------ other outcomes


def test_what_is_not_fitted_never_falls_due_again(in_farm, machine, belt):
    cab = FitmentFactory(organisation=in_farm.organisation, name="Closed cab")
    belt.task.needs.add(cab)
    machine.fitments.add(cab)
    order = started(in_farm, machine, belt)
    close(in_farm, order, entries(order, outcome="not fitted"))
    belt.refresh_from_db()
    assert not belt.active
    assert not machine.fitments.exists()


def test_not_fitted_is_only_for_what_a_machine_may_lack(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    assert "Every machine of this type" in str(problems(in_farm, order, entries(order, outcome="not fitted")))
    belt.task.needs.set(
        [FitmentFactory(organisation=in_farm.organisation, name=name) for name in ("Cab", "Cooling")]
    )
    assert "Cab and Cooling" in str(problems(in_farm, order, entries(order, outcome="not fitted")))


def test_a_fault_is_put_right_by_its_line(in_farm, machine):
    mended, left = FaultFactory(machine=machine, text="leak"), FaultFactory(machine=machine, text="dent")
    order = started(in_farm, machine, faults=[mended, left])
    one, two = mended.line, left.line
    entered = Entries(
        lines=[LineEntry(one.pk, "done"), LineEntry(two.pk, "deferred", "no time", LATER)], hours=D(1004)
    )
    close(in_farm, order, entered)
    mended.refresh_from_db()
    left.refresh_from_db()
    assert (mended.fixed_at, left.fixed_at) == (NOW, None)


def test_licensed_work_is_done_by_someone_licensed_or_referred(in_farm, machine, technician, belt):
    licensed = TechnicianFactory(member=in_farm.owner, licensed=True, hourly_rate=D(60))
    order = started(in_farm, machine, belt)
    belt.task.skill = "licensed"
    belt.task.save()
    line = order.lines.get()
    entered = entries(order, ("8",), labour=[LabourEntry(technician.pk, 30)])
    assert list(problems(in_farm, order, entered)) == [f"lines-{line.pk}-outcome"]
    closed = close(in_farm, order, replace(entered, labour=[LabourEntry(licensed.pk, 30)]))
    assert closed.state == "closed"


# ------------------------------------------------------------------ stock, labour, cost


def test_parts_leave_the_stock_and_cost_what_they_cost_that_day(in_farm, machine, technician, belt):
    oil = PartFactory(organisation=in_farm.organisation, unit="L", unit_cost=D("6.15"), in_stock=D(4))
    filter_ = PartFactory(organisation=in_farm.organisation, unit_cost=D("12.50"), in_stock=D(3))
    order = started(in_farm, machine, belt)
    entered = entries(
        order,
        ("8",),
        parts=[PartEntry(oil.pk, D("4.5")), PartEntry(filter_.pk, D(1)), PartEntry(filter_.pk, D(1))],
        labour=[LabourEntry(technician.pk, 50), LabourEntry(technician.pk, 15)],
    )
    closed = close(in_farm, order, entered)
    oil.refresh_from_db()
    filter_.refresh_from_db()
    assert (oil.in_stock, filter_.in_stock) == (D("-0.5"), 1)
    oil.unit_cost, technician.hourly_rate = D(9), D(90)
    oil.save()
    technician.save()
    total = cost(
        closed.parts.values_list("quantity", "unit_cost"), closed.labour.values_list("minutes", "hourly_rate")
    )
    # 4.5 × 6.15 = 27.675 and 2 × 12.50 = 25, together 52.675, half up 52.68; 65 min × 45.50 / 60 = 49.2916...
    assert (total.parts, total.labour, total.total) == (D("52.68"), D("49.29"), D("101.97"))


@pytest.mark.parametrize("quantity", ["0", "-1", "0.001", "1e9"])
def test_quantities_that_cannot_be(in_farm, machine, belt, quantity):
    part = PartFactory(organisation=in_farm.organisation)
    order = started(in_farm, machine, belt)
    entered = entries(order, ("8",), parts=[PartEntry(part.pk, D(quantity))])
    assert list(problems(in_farm, order, entered)) == [f"parts-{part.pk}-quantity"]


def test_minutes_that_cannot_be(in_farm, machine, technician, belt):
    order = started(in_farm, machine, belt)
    entered = entries(order, ("8",), labour=[LabourEntry(technician.pk, 0)])
    assert list(problems(in_farm, order, entered)) == [f"labour-{technician.pk}-minutes"]
