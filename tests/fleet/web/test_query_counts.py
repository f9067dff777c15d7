"""Lists ask as many queries for 200 rows as for 10."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet import readings
from fleet.readings import Submitted
from tests.factories import MemberFactory, YardFactory
from tests.fleet.web.rows import NOON, attachment_of, device_token, machine_of, take


def machines(farm, count):
    kind = machine_of(farm).type
    for _ in range(count):
        machine_of(farm, type=kind)


def held(farm, count):
    machine = machine_of(farm)
    with farm.scope():
        take(farm, machine, "1000")
        at = NOON + timedelta(days=1)
        rows = [Submitted(machine.pk, at + timedelta(minutes=n), 90000 + n) for n in range(count)]
        receipts = readings.take(organisation=farm.organisation, rows=rows, source="api", sender="box")
        assert {receipt.state for receipt in receipts} == {"held"}


def attachments(farm, count):
    kind = attachment_of(farm).type
    host = machine_of(farm)
    with farm.scope():
        for number in range(count):
            made = attachment_of(farm, type=kind)
            if number % 2:
                made.mountings.create(
                    organisation=farm.organisation, machine=host, mounted_at="2026-02-01T00:00Z", hours_on=0
                )


def people(farm, count):
    for _ in range(count):
        MemberFactory(organisation=farm.organisation, role="technician")


def yards(farm, count):
    for _ in range(count):
        YardFactory(organisation=farm.organisation)


def tokens(farm, count):
    for _ in range(count):
        device_token(farm)


LISTS = [
    ("/readings/new/", machines),
    ("/readings/held/", held),
    ("/attachments/", attachments),
    ("/attachments/1/mount/", machines),
    ("/people/", people),
    ("/yards/", yards),
    ("/tokens/", tokens),
]


def queries(client, page):
    with CaptureQueriesContext(connection) as asked:
        assert client.get(page).status_code == 200
    return len(asked)


@pytest.mark.parametrize(("page", "fill"), LISTS, ids=[page for page, _ in LISTS])
def test_a_list_asks_a_constant_number(farm, page, fill):
    page = page.replace("/1/", f"/{attachment_of(farm).pk}/")
    client = farm.client("owner")
    fill(farm, 10)
    few = queries(client, page)
    fill(farm, 190)
    assert queries(client, page) == few
    assert few <= 12
