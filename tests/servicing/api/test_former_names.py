"""For one version requests about orders may say things as the version before did; answers never do."""

from decimal import Decimal

import pytest
from drf_spectacular.generators import SchemaGenerator

from servicing import workorders
from servicing.models import WorkOrder
from tests.factories import DutyFactory, FaultFactory
from tests.servicing.api.order_bodies import NOW, URL

DUE = "/api/v1/tasks-due"
pytestmark = pytest.mark.time_machine(NOW, tick=False)


def deferring(farm, order, outcome="deferred", **until):
    with farm.scope():
        line = order.lines.get().pk
    entry = {"line": line, "outcome": outcome, "reason": "No belt in stock.", **until}
    return {"revision": order.revision, "lines": [entry]}


@pytest.mark.parametrize("outcome", ["deferred", "left"])
@pytest.mark.parametrize("until", ["deferred_until", "put_off_until"])
def test_a_line_is_deferred_under_either_name(farm, started, outcome, until):
    sent = deferring(farm, started, outcome, **{until: "2026-05-20"})
    answer = farm.api("technician").post(f"{URL}/{started.pk}/record", sent)
    assert answer.status_code == 200, answer.json()
    line = answer.json()["lines"][0]
    assert (line["outcome"], line["deferred_until"]) == ("deferred", "2026-05-20")
    assert "put_off_until" not in line


def test_both_names_at_once_are_refused(farm, started):
    sent = deferring(farm, started, deferred_until="2026-05-20", put_off_until="2026-05-20")
    answer = farm.api("technician").post(f"{URL}/{started.pk}/record", sent)
    assert answer.status_code == 400
    assert [error["pointer"] for error in answer.json()["errors"]] == ["#/lines/0/put_off_until"]


def test_an_outcome_that_never_was_is_refused(farm, started):
    sent = deferring(farm, started, "mislaid", deferred_until="2026-05-20")
    answer = farm.api("technician").post(f"{URL}/{started.pk}/record", sent)
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json()["errors"]] == ["#/lines/0/outcome"]


@pytest.mark.parametrize("path", ["hold", "park"])
def test_an_order_is_put_on_hold_under_either_path(farm, started, path):
    sent = {"revision": started.revision, "reason": "belt ordered"}
    answer = farm.api("technician").post(f"{URL}/{started.pk}/{path}", sent)
    assert answer.status_code == 200, answer.json()
    assert (answer.json()["state"], answer.json()["hold_reason"]) == ("on hold", "belt ordered")
    assert not {"parked_reason", "withdrawn_reason"} & answer.json().keys()


@pytest.mark.parametrize("path", ["cancel", "withdraw"])
def test_an_order_is_cancelled_under_either_path(farm, started, path):
    sent = {"revision": started.revision, "reason": "sold"}
    answer = farm.api("manager").post(f"{URL}/{started.pk}/{path}", sent)
    assert answer.status_code == 200, answer.json()
    assert (answer.json()["state"], answer.json()["cancel_reason"]) == ("cancelled", "sold")


@pytest.mark.parametrize("asked", ["on hold", "parked", ["parked", "cancelled"], ["on hold", "parked"]])
def test_orders_are_found_by_either_name_of_their_state(farm, started, asked):
    with farm.scope():
        workorders.hold(order=started, member=farm.manager, revision=started.revision, reason="rain")
    api = farm.api("counter")
    assert [row["id"] for row in api.get(URL, {"state": asked}).json()["results"]] == [started.pk]
    with farm.scope():
        order = WorkOrder.objects.get()
        workorders.cancel(order=order, member=farm.manager, revision=order.revision, reason="sold")
    for name in ("cancelled", "withdrawn"):
        assert [row["id"] for row in api.get(URL, {"state": name}).json()["results"]] == [started.pk]


@pytest.mark.parametrize("name", ["overdue", "past"])
def test_what_is_overdue_is_found_by_either_name(farm, duty, name):
    with farm.scope():
        DutyFactory(machine=duty.machine, mark_hours=Decimal(9000))
    found = farm.api("counter").get(DUE, {name: "true"}).json()["results"]
    assert [(row["id"], row["overdue"]) for row in found] == [(duty.pk, True)]
    assert "past" not in found[0]


def test_both_names_of_a_filter_are_refused(farm):
    answer = farm.api("counter").get(DUE, {"past": "true", "overdue": "true"})
    assert answer.status_code == 400
    assert [error["parameter"] for error in answer.json()["errors"]] == ["past"]


@pytest.mark.parametrize("order", ["due_hours", "mark_hours"])
def test_tasks_due_are_ordered_by_either_name(farm, duty, order):
    with farm.scope():
        later = DutyFactory(machine=duty.machine, mark_hours=Decimal(9000))
    api = farm.api("counter")
    assert [row["id"] for row in api.get(DUE, {"ordering": order}).json()["results"]] == [duty.pk, later.pk]
    down = api.get(DUE, {"ordering": f"-{order}"}).json()["results"]
    assert [(row["id"], row["due_hours"]) for row in down] == [(later.pk, "9000.00"), (duty.pk, "1000.00")]


def test_tasks_due_are_found_at_either_address(farm, duty):
    api = farm.api("counter")
    assert api.get("/api/v1/duties").json() == api.get(DUE).json()
    shown = api.get(f"{DUE}/{duty.pk}").json()
    assert api.get(f"/api/v1/duties/{duty.pk}").json() == shown
    assert not {"mark_hours", "mark_on", "past", "put_off_until", "put_off_reason"} & shown.keys()
    assert {"due_hours", "due_on", "overdue", "deferred_until", "deferred_reason"} <= shown.keys()


@pytest.mark.parametrize("tasks", ["tasks_due", "duties"])
@pytest.mark.parametrize("faults", ["faults", "defects"])
def test_an_order_is_made_under_either_name(farm, machine, duty, tasks, faults):
    with farm.scope():
        fault = FaultFactory(machine=machine, text="Seat torn")
    sent = {"machine": machine.pk, tasks: [duty.pk], faults: [fault.pk]}
    made = farm.api("manager").post(URL, sent)
    assert made.status_code == 201, made.json()
    lines = made.json()["lines"]
    assert [(line["task_due"], line["due_hours"]) for line in lines] == [(duty.pk, "1000.00"), (None, None)]
    assert not {"duty", "mark_hours", "mark_on"} & lines[0].keys()


@pytest.mark.parametrize(("former", "now"), [("duties", "tasks_due"), ("defects", "faults")])
def test_an_order_under_both_names_is_refused(farm, machine, duty, former, now):
    refused = farm.api("manager").post(URL, {"machine": machine.pk, former: [duty.pk], now: []})
    assert refused.status_code == 400
    assert [error["pointer"] for error in refused.json()["errors"]] == [f"#/{former}"]


def test_an_order_of_nothing_is_refused_at_the_tasks(farm, machine):
    refused = farm.api("manager").post(URL, {"machine": machine.pk})
    assert refused.status_code == 422
    assert [error["pointer"] for error in refused.json()["errors"]] == ["#/tasks_due"]


def test_the_document_names_no_former_path():
    paths = SchemaGenerator().get_schema(request=None, public=True)["paths"]
    order = "/api/v1/orders/{id}"
    assert {f"{order}/hold", f"{order}/cancel", DUE, f"{DUE}/{{id}}"} <= paths.keys()
    former = {f"{order}/park", f"{order}/withdraw", "/api/v1/duties", "/api/v1/duties/{id}"}
    assert not former & paths.keys()
