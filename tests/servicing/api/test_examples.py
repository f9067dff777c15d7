"""The document's six examples, sent as they stand: from a machine to a closed order."""

import html
import json
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.test import Client

from fleet.api.guide import guide
from servicing.models import WorkOrder
from tests.factories import (
    CheckFactory,
    DutyFactory,
    PartFactory,
    ReadingFactory,
    TechnicianFactory,
)

pytestmark = pytest.mark.time_machine(datetime(2026, 5, 5, 6, tzinfo=UTC), tick=False)


@pytest.fixture
def rows(farm):
    """The farm with what the examples name, under the ids by which they name it."""
    with farm.scope():
        machine = farm.machine(pk=7, tag="T-07")
        ReadingFactory(machine=machine, taken_at=datetime(2026, 5, 1, 8, tzinfo=UTC), shows=Decimal(1200))
        duty = DutyFactory(pk=31, machine=machine, mark_hours=Decimal(1200), mark_on=date(2026, 5, 2))
        CheckFactory(pk=12, task=duty.task, lower=Decimal(7), upper=Decimal(9))
        TechnicianFactory(pk=3, member=farm.technician)
        PartFactory(pk=5, organisation=farm.organisation, in_stock="4")
    return farm


def with_ids(order, said):
    """The same with the ids of an order that was just made in the place of the document's."""
    text = json.dumps(said).replace("/orders/58/", f"/orders/{order['id']}/")
    return json.loads(text.replace('"line": 102', f'"line": {order["lines"][0]["id"]}'))


def test_they_close_an_order(rows):
    client, order, shown = rows.api("manager"), None, []
    for example in guide().examples:
        address, body = example.address, json.loads(example.body or "null")
        if order:
            address, body = with_ids(order, [address, body])
        answer = client.get(address) if example.method == "GET" else client.post(address, body)
        assert answer.status_code in (200, 201), (example.title, answer.content)
        shown.append(answer.json())
        if example.title.startswith("4."):
            order = answer.json()
    machines, receipts, due, made, started, closed = shown
    assert [machine["id"] for machine in machines["results"]] == [7]
    assert receipts["counted"] == 2
    assert [task["id"] for task in due["results"]] == [31]
    assert (made["planned_for"], made["lines"][0]["task_due"]) == ("2026-05-06", 31)
    assert [(check["id"], check["unit"]) for check in made["lines"][0]["to_check"]] == [(12, "mm")]
    assert (started["state"], closed["state"], closed["hours_at_close"]) == ("started", "closed", "1210.50")
    with rows.scope():
        assert WorkOrder.objects.get().parts.get().part_id == 5


def test_there_are_six_and_the_page_shows_each(db):
    shown = html.unescape(Client().get("/api/").content.decode())
    examples = guide().examples
    assert [example.title[:2] for example in examples] == ["1.", "2.", "3.", "4.", "5.", "6."]
    for example in examples:
        assert f'{example.address}" \\' in shown
        assert not example.body or f"-d '{example.body}'" in shown
