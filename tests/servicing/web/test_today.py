"""Today shows what concerns whom, in a constant number of queries."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from fleet.models import Hire, Machine, TagOut
from tests.factories import DutyFactory, LineFactory, MachineFactory, TechnicianFactory, WorkOrderFactory

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
    heading = "Likely within 14 days, on no order yet"
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
    part = section(page(farm), "Tagged out")
    assert "seat switch dead" in part
    assert str(farm.technician) in part


def test_a_quiet_day_says_so(farm):
    assert "Nothing needs you today." in page(farm)


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
