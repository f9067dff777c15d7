"""Putting a closed order right: who may, for how long, and what stays."""

from datetime import timedelta
from decimal import Decimal as D

import pytest

from fleet.core.errors import FleetError, NotAllowed, Stale, WrongState
from fleet.models import Reading
from servicing import workorders
from servicing.ledger.costs import cost
from servicing.models import Amendment
from servicing.workorders import LabourEntry, NotReady, PartEntry, Problem
from tests.factories import PartFactory, TechnicianFactory
from tests.servicing.workorders.corrections import CLOSED, amend, changed, close_with
from tests.servicing.workorders.work import entries, started

pytestmark = pytest.mark.time_machine(CLOSED, tick=False)


# ------------------------------------------------------------------ who may, and for how long


@pytest.mark.parametrize(
    ("role", "later", "allowed"),
    [
        ("technician", timedelta(hours=48), True),
        ("technician", timedelta(hours=48, seconds=1), False),
        ("manager", timedelta(days=200), True),
        ("owner", timedelta(days=200), True),
        ("counter", timedelta(0), False),
    ],
)
def test_who_closed_it_may_for_48_hours_and_who_plans_orders_always(
    in_farm, machine, belt, time_machine, role, later, allowed
):
    order = close_with(in_farm, started(in_farm, machine, belt), found="8")
    member = getattr(in_farm, role)
    time_machine.move_to(CLOSED + later)
    assert workorders.may_amend(order, member) == allowed
    if allowed:
        assert amend(order, member, found="7.5").state == "closed"
        assert changed(order) == [{("Belt deflection, as found", "8 mm", "7.5 mm")}]
    else:
        with pytest.raises(NotAllowed):
            amend(order, member, found="7.5")
        assert not Amendment.objects.exists()


def test_another_technician_may_not_and_neither_may_a_stranger(in_farm, stranger, machine, belt):
    order = close_with(in_farm, started(in_farm, machine, belt), found="8")
    other = TechnicianFactory(member__organisation=in_farm.organisation, member__role="technician").member
    for member in (other, stranger.owner):
        assert not workorders.may_amend(order, member)
        with pytest.raises(NotAllowed):
            amend(order, member, found="7.5")


@pytest.mark.parametrize("state", ["planned", "started", "on hold", "cancelled"])
def test_only_a_closed_order_is_corrected(in_farm, machine, belt, state):
    order = workorders.plan(member=in_farm.manager, machine=machine, duties=[belt])
    if state in ("started", "on hold"):
        order = workorders.start(order=order, member=in_farm.technician, revision=1)
    if state == "on hold":
        order = workorders.hold(
            order=order, member=in_farm.technician, revision=order.revision, reason="No belt."
        )
    if state == "cancelled":
        order = workorders.cancel(order=order, member=in_farm.manager, revision=1, reason="Sold.")
    with pytest.raises(WrongState):
        amend(order, in_farm.manager, found="8")
    assert not workorders.may_amend(order, in_farm.manager)


def test_a_reason_and_a_change_are_asked_for_and_a_stale_page_is_told(in_farm, machine, belt):
    order = close_with(in_farm, started(in_farm, machine, belt), found="8")
    with pytest.raises(NotReady) as refused:
        amend(order, in_farm.manager, found="7.5", why="  ")
    assert refused.value.problems == (Problem(("reason",), "Say what was wrong."),)
    with pytest.raises(FleetError) as refused:
        amend(order, in_farm.manager, found="8")
    assert refused.value.field == "reason"
    assert "Nothing has changed" in refused.value.sentence

    amend(order, in_farm.manager, found="7.5")
    with pytest.raises(Stale):
        amend(order, in_farm.manager, found="7.8")  # `order` is what the page showed before
    assert Amendment.objects.count() == 1


def test_every_problem_is_named_at_once_and_nothing_is_kept(in_farm, machine, belt):
    order = close_with(in_farm, started(in_farm, machine, belt), found="8")
    with pytest.raises(NotReady) as refused:
        amend(order, in_farm.manager, found="12", hours="900000")
    line, check = order.lines.get().pk, belt.task.checks.get().pk
    wrong = {each.path for each in refused.value.problems}
    assert wrong == {("lines", line, "checks", check, "left"), ("hours",)}
    order.refresh_from_db()
    assert order.hours_at_close == 1004
    assert order.lines.get().results.get().found_value == 8
    assert not Amendment.objects.exists()
    assert Reading.objects.counted().filter(machine=machine).latest_first().first().shows == 1004


# ------------------------------------------------------------------ what stays


def test_the_first_version_stays_with_who_and_why_through_two_corrections(in_farm, machine, belt, technician):
    oil = PartFactory(organisation=in_farm.organisation, name="Oil", number="O1", unit="L", unit_cost=D(4))
    order = close_with(
        in_farm,
        started(in_farm, machine, belt),
        found="8",
        note="All well.",
        parts=[PartEntry(oil.pk, D(2))],
        labour=[LabourEntry(technician.pk, 30)],
    )
    amend(
        order,
        in_farm.technician,
        why="Forgot the last litre.",
        found="8",
        note="All well.",
        parts=[PartEntry(oil.pk, D(3))],
        labour=[LabourEntry(technician.pk, 30)],
    )
    order.refresh_from_db()
    amend(
        order,
        in_farm.manager,
        why="No oil, and it took longer.",
        found="8.5",
        labour=[LabourEntry(technician.pk, 75)],
    )

    first, second = workorders.corrections(order)
    assert (first.amendment.made_by, first.amendment.reason) == (in_farm.technician, "Forgot the last litre.")
    assert first.amendment.made_at == CLOSED
    assert changed(order) == [
        {("Oil O1", "2 L", "3 L")},
        {
            ("Oil O1", "3 L", ""),
            ("Belt deflection, as found", "8 mm", "8.5 mm"),
            ("Fan belt: note", "All well.", ""),
            (str(technician), "30 min", "75 min"),
        },
    ]
    assert (second.amendment.made_by, second.amendment.before["hours_at_close"]) == (in_farm.manager, "1004")
    kept = first.amendment.before["lines"][0]["results"][0]
    assert (kept["as_found"], kept["recorded_by"], kept["passes"]) == ("8 mm", str(in_farm.technician), True)


def test_prices_are_those_of_the_day_and_stock_moves_by_the_difference(in_farm, machine, belt, technician):
    oil = PartFactory(organisation=in_farm.organisation, unit="L", unit_cost=D(4), in_stock="10")
    belt_part = PartFactory(organisation=in_farm.organisation, unit_cost=D(20), in_stock="3")
    order = close_with(
        in_farm,
        started(in_farm, machine, belt),
        found="8",
        parts=[PartEntry(oil.pk, D(2))],
        labour=[LabourEntry(technician.pk, 60)],
    )
    oil.unit_cost, technician.hourly_rate = D(5), D(60)
    oil.save(), technician.save()
    amend(
        order,
        in_farm.manager,
        found="8",
        parts=[PartEntry(oil.pk, D("0.5")), PartEntry(belt_part.pk, D(1))],
        labour=[LabourEntry(technician.pk, 90)],
    )
    assert (oil.in_stock, belt_part.in_stock) == (D("9.5"), D(2))
    spent = cost(
        order.parts.values_list("quantity", "unit_cost"), order.labour.values_list("minutes", "hourly_rate")
    )
    # by hand: 0.5 L at 4 + 1 at 20; 1.5 h at 45.50
    assert (spent.parts, spent.labour) == (D(22), D("68.25"))


# ------------------------------------------------------------------ hours and safety


def test_an_unchanged_value_keeps_the_name_of_who_measured_it(in_farm, machine, belt):
    order = close_with(in_farm, started(in_farm, machine, belt), found="8")
    amend(order, in_farm.manager, found="8", note="Said by phone.")
    assert order.lines.get().results.get().recorded_by == in_farm.technician
    order.refresh_from_db()
    amend(order, in_farm.manager, found="8.5", note="Said by phone.")
    assert order.lines.get().results.get().recorded_by == in_farm.manager


def test_two_corrections_at_once_are_one_and_a_refusal(in_farm, machine, belt):
    order = close_with(in_farm, started(in_farm, machine, belt), found="8")
    stale = entries(order, found="7.8", hours=None)
    amend(order, in_farm.manager, found="7.5")
    with pytest.raises(Stale):
        amend(order, in_farm.technician, entered=stale)
