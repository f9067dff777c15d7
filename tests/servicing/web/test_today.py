"""Today shows what concerns whom, in a constant number of queries."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from fleet.models import Hire, Machine, TagOut
from servicing.models import Fault
from tests.factories import (
    BookingFactory,
    DutyFactory,
    LineFactory,
    MachineFactory,
    TechnicianFactory,
    WorkOrderFactory,
)

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
pytestmark = pytest.mark.time_machine(NOW, tick=False)


def page(farm, role="manager", path="/"):
    answer = farm.client(role).get(path)
    assert answer.status_code == 200
    return answer.content.decode()


def duty(farm, **kwargs):
    machine = kwargs.pop("machine", None) or MachineFactory(organisation=farm.organisation, tag="T-1")
    return DutyFactory(machine=machine, task__title="Change engine oil", **kwargs)


def section(html, heading):
    """The part of the page under a heading."""
    assert f">{heading}</h2>" in html
    return html.split(f">{heading}</h2>")[1].split("</section>")[0]


def test_past_follows_the_hours_without_a_projection(farm):
    late = duty(farm)
    assert "Overdue" not in page(farm)
    with farm.scope():
        Machine.objects.filter(pk=late.machine_id).update(hours=Decimal("100.0"))
    assert "Change engine oil" in section(page(farm), "Overdue")


def test_a_date_mark_is_past_on_its_day(farm):
    duty(farm, mark_hours=None, mark_on=date(2026, 3, 2))
    assert "Change engine oil" in section(page(farm), "Overdue")


def test_likely_soon_and_on_no_order(farm):
    soon = duty(farm, likely=date(2026, 3, 16))
    heading = "Due soon, not planned"
    assert "Change engine oil" in section(page(farm), heading)
    with farm.scope():
        LineFactory(order__machine=soon.machine, duty=soon)
    assert heading not in page(farm)


def test_left_until_later_is_not_lost(farm):
    duty(farm, mark_hours=Decimal("0"), deferred_until=date(2026, 3, 9), deferred_reason="waits for the seal")
    html = page(farm)
    assert "waits for the seal" in section(html, "Deferred")
    assert "Overdue" not in html
    with time_machine.travel(NOW + timedelta(days=7), tick=False):
        assert "Change engine oil" in section(page(farm), "Overdue")


def test_technician_sees_own_jobs_first(farm):
    technician = TechnicianFactory(member=farm.technician)
    order = WorkOrderFactory(
        machine=MachineFactory(organisation=farm.organisation),
        technician=technician,
        planned_for=date(2026, 3, 2),
    )
    assert f"Order {order.number}" in section(page(farm, "technician"), "Your jobs")


def test_counter_sees_what_is_due_back(farm):
    machine = MachineFactory(organisation=farm.organisation, tag="SK-9")
    Hire(
        organisation=farm.organisation,
        machine=machine,
        hirer="Lowther Paving",
        out_at=timezone.now() - timedelta(days=9),
        hours_out=0,
        due_back_on=date(2026, 3, 1),
    ).save()
    assert "overdue" in section(page(farm, "counter"), "Due back")
    assert "Due back" not in page(farm, "technician")


def test_tagged_out_says_why_and_who(farm):
    machine = MachineFactory(organisation=farm.organisation)
    TagOut(
        organisation=farm.organisation, machine=machine, reason="seat switch dead", placed_by=farm.technician
    ).save()
    part = section(page(farm), "Must not run")
    assert "seat switch dead" in part
    assert str(farm.technician) in part


def test_a_quiet_day_says_so(farm):
    duty(farm)
    assert "Nothing needs you today." in page(farm)


@pytest.mark.parametrize(("role", "told"), [
    ("manager", "Add a machine"),
    ("technician", "The owner or a manager enters the machines."),
])  # fmt: skip
def test_a_first_day_says_how_to_begin(farm, role, told):
    html = page(farm, role)
    assert "No machine has been entered yet." in html
    assert told in html


def test_a_grave_fault_and_late_work_on_hire_stand_with_the_tagged_out(farm):
    tagged, broken, hired, waits = (farm.machine(tag=tag) for tag in ("T-4", "T-3", "T-2", "T-1"))
    TagOut(
        organisation=farm.organisation, machine=tagged, reason="seat switch dead", placed_by=farm.technician
    ).save()
    with farm.scope():
        Fault.objects.create(
            organisation=farm.organisation,
            machine=broken,
            severity=Fault.Severity.STOPS,
            text="Brake pulls left",
        )
        Fault.objects.create(organisation=farm.organisation, machine=waits, text="Mirror is cracked")
    Hire(
        organisation=farm.organisation,
        machine=hired,
        hirer="Lowther Paving",
        out_at=timezone.now() - timedelta(days=9),
        hours_out=0,
        due_back_on=date(2026, 3, 9),
    ).save()
    for each in (tagged, hired, waits):
        duty(farm, machine=each, mark_hours=Decimal("0"))
    for role in ("counter", "technician"):
        assert "Plan" not in section(page(farm, role), "Overdue and at work")
    html = page(farm)
    part = section(html, "Must not run")
    assert part.index(tagged.tag) < part.index(broken.tag)
    assert "Brake pulls left" in part
    assert "Out with Lowther Paving: Change engine oil" in section(html, "Overdue and at work")
    assert "Overdue as well: Change engine oil" in part
    late = section(html, "Overdue")
    assert f">{waits.tag}</a>" in late
    assert ">T-4</a>" not in late
    assert ">T-2</a>" not in late


def test_a_machine_is_told_once(farm):
    machine = farm.machine(tag="T-1")
    duty(farm, machine=machine, mark_hours=Decimal("0"))
    duty(farm, machine=machine, likely=date(2026, 3, 10))
    html = page(farm)
    assert html.count(">T-1</a>") == 1
    assert "Due soon" not in html


def test_what_an_order_of_today_carries_is_told_with_it(farm):
    late = duty(farm, mark_hours=Decimal("0"))
    order = WorkOrderFactory(machine=late.machine, planned_for=date(2026, 3, 2))
    with farm.scope():
        LineFactory(order=order, duty=late)
    html = page(farm)
    assert "1 task overdue" in section(html, "Jobs for today")
    assert ">Overdue</h2>" not in html


def test_the_hire_desk_sees_who_comes_for_what_today(farm):
    machine = farm.machine(tag="SK-9", for_hire=True)
    kept = farm.machine(tag="SK-8", for_hire=True)
    for each in (machine, kept):
        BookingFactory(machine=each, what="Pau Vila", first_on=date(2026, 3, 2), last_on=date(2026, 3, 4))
    TagOut(organisation=farm.organisation, machine=kept, reason="seat switch dead").save()
    part = section(page(farm, "counter"), "Going out")
    assert "To Pau Vila, Mon" in part
    assert "seat switch dead" in part
    assert "Going out" not in page(farm, "technician")


def test_another_organisations_work_is_not_here(farm, stranger):
    duty(stranger, mark_hours=Decimal("0"))
    assert "Change engine oil" not in page(farm)


def test_without_sign_in_one_is_asked_to(client, db):
    answer = client.get("/")
    assert (answer.status_code, answer.url) == (302, "/sign-in/?next=/")


@pytest.mark.parametrize("path", ["/", "/ahead/", "/machines/", "/machines/?state=ready", "/programs/"])
def test_pages_ask_the_same_queries_for_10_and_200_machines(farm, path):
    def cost(machines):
        task = DutyFactory(machine__organisation=farm.organisation).task
        for n in range(machines):
            machine = farm.machine(type=task.version.program.machine_type)
            DutyFactory(machine=machine, task=task, mark_hours=Decimal(n % 2 * 100))
        browser = farm.client("owner")
        with CaptureQueriesContext(connection) as queries:
            assert browser.get(path).status_code == 200
        return len(queries)

    assert cost(10) == cost(190)
