"""The bench: my next job, then the others."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from servicing import workorders
from tests.factories import PartFactory
from tests.servicing.web.order_pages import NOW, TODAY, due

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_bench_shows_my_next_job_with_what_it_needs(farm, machine, duty, technician, order):
    with farm.scope():
        duty.task.tools.create(organisation=farm.organisation, tool="wrench", size="17 mm")
        duty.task.tools.create(organisation=farm.organisation, tool="wrench", size="12 mm")
        part = PartFactory(organisation=farm.organisation, name="Fan belt", in_stock=Decimal(0))
        duty.task.supplies.create(organisation=farm.organisation, part=part, quantity=1)
        later = due(machine, "Grease", TODAY)
        waiting = due(machine, "Filters", TODAY)
        nobody = due(machine, "Lamps", TODAY)
        for work, day, who in (
            (later, date(2026, 5, 9), technician),
            (waiting, TODAY, technician),
            (nobody, TODAY, None),
        ):
            made = workorders.plan(
                member=farm.manager, machine=machine, duties=[work], technician=who, planned_for=day
            )
            if work is waiting:
                workorders.hold(order=made, member=farm.technician, revision=1, reason="filter ordered")
    answer = farm.client("technician").get(reverse("bench"))
    assert answer.context["next"] == order
    assert [row.number for row in answer.context["then"]] == [2]
    assert [row.number for row in answer.context["on_hold"]] == [3]
    assert [(who, [row.number for row in rows]) for who, rows in answer.context["others"]] == [(None, [4])]
    page = answer.content.decode()
    assert "wrench 12, 17 mm" in page
    assert "Fan belt: 1 pc short" in page
    assert "filter ordered" in page


def test_bench_of_a_manager_shows_everybodys_jobs(farm, order, technician):
    answer = farm.client("manager").get(reverse("bench"))
    assert [(who, rows) for who, rows in answer.context["others"]] == [(technician, [order])]
