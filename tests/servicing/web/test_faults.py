"""Faults: the list, repeated ones together, one step to an order."""

from datetime import UTC, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from servicing.models import Fault, WorkOrder
from tests.factories import FaultFactory, LineFactory, MachineFactory, WorkOrderFactory


def page(farm, role="manager"):
    answer = farm.client(role).get(reverse("faults"))
    assert answer.status_code == 200
    return answer


def test_repeated_faults_of_one_machine_stand_together(farm, machine):
    order = WorkOrderFactory(machine=machine, number=41, state="cancelled")
    FaultFactory(
        machine=machine, text="Boom hose weeps", reported_at=datetime.now(UTC).replace(month=1, day=1),
        fixed_at=datetime.now(UTC), line=LineFactory(order=order, open=False),
    )  # fmt: skip
    FaultFactory(machine=machine, text="Hose at the boom weeps again", severity="soon")
    FaultFactory(machine=machine, text="Horn silent", severity="stops")
    elsewhere = MachineFactory(organisation=farm.organisation, tag="T-02")
    FaultFactory(machine=elsewhere, text="Boom hose weeps")
    answer = page(farm)
    faults = {each.machine.tag: each for each in answer.context["machines"]}
    assert [faults.machine.tag for faults in answer.context["machines"]] == ["T-07", "T-02"], "gravest first"
    assert [(each.fault.text, each.times, each.came_back) for each in faults["T-07"].standing] == [
        ("Horn silent", 1, False),
        ("Hose at the boom weeps again", 2, True),
    ]
    assert [each.times for each in faults["T-02"].standing] == [1], "another machine's is another fault"
    said = answer.content.decode()
    assert "3 open faults, 1 to fix before the machine goes out; 1 reported more than once" in said
    assert "Reported 2 times in similar words, fixed before" in said
    assert "order 41" in said


def test_the_gravest_of_those_alike_stands_for_them(farm, machine):
    FaultFactory(machine=machine, text="Seat belt does not latch", severity="stops")
    FaultFactory(machine=machine, text="Belt of the seat won't latch", severity="note")
    (faults,) = page(farm).context["machines"]
    assert [(each.fault.severity, each.times) for each in faults.standing] == [("stops", 2)]


def test_one_step_makes_an_order_of_a_fault(farm, machine):
    fault = FaultFactory(machine=machine, text="Horn silent")
    assert "Make an order<" in page(farm).content.decode()
    assert "Make an order<" not in page(farm, "technician").content.decode()
    answer = farm.client("manager").post(reverse("fault-order", args=[fault.pk]))
    with farm.scope():
        order = WorkOrder.objects.get()
        assert answer["Location"] == order.get_absolute_url()
        assert [line.title for line in order.lines.all()] == ["Put right: Horn silent"]
        assert Fault.objects.get().line == order.lines.get()
    said = page(farm).content.decode()
    assert f"order {order.number}" in said
    assert "Make an order<" not in said
    again = farm.client("manager").post(reverse("fault-order", args=[fault.pk]), follow=True)
    assert "is on Order 1, which is open" in again.content.decode()
    with farm.scope():
        assert WorkOrder.objects.count() == 1


def test_a_fault_put_right_is_shown_with_its_order(farm, machine):
    order = WorkOrderFactory(machine=machine, number=7)
    FaultFactory(
        machine=machine, text="Horn silent", fixed_at=datetime.now(UTC), line=LineFactory(order=order)
    )
    said = farm.client("technician").get(order.get_absolute_url()).content.decode()
    assert "Horn silent" in said
    assert "; fixed " in said
    assert page(farm).context["number"] == 0
    assert farm.client("manager").post(reverse("fault-order", args=[1])).status_code == 404


@pytest.mark.parametrize(("role", "status"), [("technician", 403), ("counter", 403), ("owner", 302)])
def test_only_planners_make_orders(farm, machine, role, status):
    fault = FaultFactory(machine=machine)
    assert farm.client(role).post(reverse("fault-order", args=[fault.pk])).status_code == status


def test_a_stranger_sees_and_orders_nothing(farm, stranger, machine):
    fault = FaultFactory(machine=machine, text="Horn silent")
    assert "Horn silent" not in stranger.client("owner").get(reverse("faults")).content.decode()
    assert stranger.client("owner").post(reverse("fault-order", args=[fault.pk])).status_code == 404
    report = f"{reverse('fault-report')}?machine={machine.pk}"
    assert stranger.client("counter").get(report).status_code == 404


def test_reporting_begins_with_the_machine(farm, machine):
    client = farm.client("counter")
    assert "T-07" in client.get(reverse("fault-report")).content.decode()
    said = client.get(f"{reverse('fault-report')}?machine={machine.pk}").content.decode()
    assert "A fault on T-07" in said
    assert f'action="{reverse("fault-new", args=[machine.pk])}"' in said
    assert client.get(f"{reverse('fault-report')}?machine=x").status_code == 404


def test_the_list_asks_a_constant_number_of_queries(farm, machine):
    def queries():
        with CaptureQueriesContext(connection) as asked:
            page(farm)
        return len(asked)

    def fill(count):
        for n in range(count):
            order = WorkOrderFactory(machine=machine)
            fixed = datetime.now(UTC) if n % 2 else None
            line = LineFactory(order=order, open=not fixed)
            FaultFactory(machine=machine, text=f"fault number {n}", line=line, fixed_at=fixed)
            FaultFactory(machine=MachineFactory(organisation=farm.organisation))

    fill(2)
    few = queries()
    fill(12)
    assert queries() == few


def test_judged_again_on_its_page(farm, stranger):
    with farm.scope():
        fault = FaultFactory(machine=farm.machine(tag="T-07"), text="Hose leaks.", severity="stops")
    page = reverse("fault-judge", args=[fault.pk])
    listed = farm.client("manager").get(reverse("faults")).content.decode()
    assert f'href="{page}"' in listed
    assert page not in farm.client("technician").get(reverse("faults")).content.decode()
    shown = farm.client("manager").get(page).content.decode()
    assert "How bad is the fault on T-07?" in shown
    assert "<title>How bad is it" in shown
    refused = farm.client("manager").post(page, {"severity": "note"})
    assert "Say why, so that others can follow." in refused.content.decode()
    answer = farm.client("manager").post(page, {"severity": "note", "reason": "Sweats."}, follow=True)
    assert "Sweats." in answer.content.decode()
    fault.refresh_from_db()
    assert fault.severity == "note"
    assert stranger.client("owner").get(page).status_code == 404
