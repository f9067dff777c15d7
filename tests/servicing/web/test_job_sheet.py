"""The job sheet as a page, and what its head says elsewhere."""

from decimal import Decimal

import pytest
from django.urls import reverse

from fleet.models import MeterSegment
from servicing.job_sheet.build import build_job_sheet
from servicing.models import Task, WorkOrder
from servicing.printing.job_sheet_pdf import words
from tests.servicing.web.order_pages import NOW

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_the_sheet_prints_limits_cautions_and_who_comes_first(farm, duty, order):
    with farm.scope():
        duty.task.steps = ["Lift the bonnet.", "Press the belt."]
        duty.task.prepare = ["Key out."]
        duty.task.save()
        duty.task.cautions.create(
            organisation=farm.organisation, hazard="rotating", text="Wait for the fan.", before_step=2
        )
    page = farm.client("technician").get(reverse("order-sheet", args=[order.pk])).content.decode()
    assert "7 to 7.62 mm" in page
    assert "The maker's manual, local rules and licensed practice come first." in page.replace("&#x27;", "'")
    assert page.index("Lift the bonnet.") < page.index("Wait for the fan.") < page.index("Press the belt.")


def test_the_head_of_a_sheet_tells_what_the_meter_shows_where_that_is_another_figure(farm, machine, order):
    """Since the meter was replaced, 1000 h in all are 204.5 h on it."""
    client = farm.client("technician")
    pages = [reverse(name, args=[order.pk]) for name in ("order-sheet", "order", "order-handover")]
    bench = reverse("bench")
    for address in (*pages, bench):
        assert "meter shows" not in client.get(address).content.decode()
    with farm.scope():
        MeterSegment.objects.filter(machine=machine).update(offset=machine.hours - Decimal("204.5"))
    for address in (*pages, bench):
        said = client.get(address).content.decode()
        assert "1\u202f000.0\xa0h in total, meter shows 204.5\xa0h" in said, address
    with farm.scope():
        order = WorkOrder.objects.with_everything().get(pk=order.pk)
        assert "meter shows 204.5" in words(build_job_sheet(order), at=NOW)["about"]


def test_minutes_nobody_entered_are_said_on_every_sheet(farm, machine, duty, order):
    client = farm.client("technician")
    with farm.scope():
        Task.objects.filter(pk=duty.task_id).update(minutes=0)
    assert "1 task without minutes" in client.get(reverse("order-sheet", args=[order.pk])).content.decode()
    assert "1 task without minutes" in client.get(reverse("bench")).content.decode()
    with farm.scope():
        printed = words(build_job_sheet(WorkOrder.objects.get(pk=order.pk)), at=NOW)
    assert printed["hands_on"] == "1 task without minutes"
    assert [line["time"] for line in printed["lines"]] == ["time not entered"]
    duties = client.get("/api/v1/tasks-due").json()["results"]
    assert [each["task"]["minutes"] for each in duties] == [None]


def test_a_task_s_note_stands_on_the_sheet_its_paper_and_its_first_step(farm, duty, order):
    """What the maker's table says beside a task, its specification too, is at hand where it is done."""
    with farm.scope():
        duty.task.note = "Torque: 85 N·m"
        duty.task.save()
        sheet = build_job_sheet(WorkOrder.objects.get(pk=order.pk))
        assert words(sheet, at=NOW)["lines"][0]["note"] == "Torque: 85 N·m"
        WorkOrder.objects.filter(pk=order.pk).update(state=WorkOrder.State.STARTED)
    client = farm.client("technician")
    sheet_page = reverse("order-sheet", args=[order.pk])
    first_step = f"{reverse('order-steps', args=[order.pk])}?step=1"
    for address in (sheet_page, first_step):
        assert "Torque: 85 N·m" in client.get(address).content.decode(), address
