"""The handover sheet for the dealer."""

from decimal import Decimal as D

import pytest
from django.urls import reverse

from servicing.models import CheckResult
from tests.factories import CheckFactory, FaultFactory, LineFactory, WorkOrderFactory
from tests.factories.servicing import DutyFactory


@pytest.fixture
def order(farm):
    machine = farm.machine(serial="HX25-4100", hours=D("812.4"))
    order = WorkOrderFactory(machine=machine, number=12, state="started")
    task = DutyFactory(machine=machine, task__title="Check the brakes", task__manual_page="4-19").task
    line = LineFactory(
        order=order,
        task=task,
        title=task.title,
        outcome="referred",
        reason="Linings are at their end; fit new ones.",
    )
    check = CheckFactory(task=task, label="Left pedal free play")
    CheckResult.objects.create(
        organisation=farm.organisation, line=line, check_made=check, kind="measure", label=check.label,
        unit="mm", lower=D(20), upper=D(30), found_value=D("30.5"), found_unit="mm", found_passes=False,
    )  # fmt: skip
    LineFactory(order=order, title="Grease the chassis", outcome="done")
    FaultFactory(
        machine=machine, text="Pulls to the left", line=line, photo=f"{farm.organisation.pk}/faults/a.jpg"
    )
    line.photos.create(organisation=farm.organisation, image=f"{farm.organisation.pk}/orders/b.jpg")
    return order


@pytest.fixture(autouse=True)
def _scoped(farm):
    with farm.scope():
        yield


def test_it_says_what_a_dealer_asks_first(farm, order):
    order.machine.tag_outs.create(
        organisation=farm.organisation, reason="Brake fails", placed_by=farm.technician
    )
    said = farm.client("technician").get(reverse("order-handover", args=[order.pk])).content.decode()
    for words in (
        "HX25-4100", "812.4", "Linings are at their end; fit new ones.", "Left pedal free play",
        "20 to 30 mm", "30.5 mm", "outside limits", "page 4-19", "Pulls to the left", "faults/a.jpg",
        "orders/b.jpg", "Brake fails", "maker's manual, local rules and licensed practice come first",
    ):  # fmt: skip
        assert words in said, words
    assert "Grease the chassis" not in said, "only what was referred"
    assert said.index("maker's manual") < said.index("Please look at")


def test_the_order_leads_to_it(farm, order):
    address = reverse("order-handover", args=[order.pk])
    assert address in farm.client("manager").get(order.get_absolute_url()).content.decode()
    order.lines.update(outcome="done")
    assert address not in farm.client("manager").get(order.get_absolute_url()).content.decode()
    assert "Nothing on this order was referred" in farm.client("manager").get(address).content.decode()


def test_a_stranger_finds_none(stranger, order):
    assert stranger.client("owner").get(reverse("order-handover", args=[order.pk])).status_code == 404
