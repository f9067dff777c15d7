"""All readings of a machine: old ones are found, and put right, without knowing their address."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.web.readings import PAGE
from tests.factories import ReadingFactory
from tests.fleet.web.rows import take

FIRST = datetime(2026, 1, 1, 11, tzinfo=UTC)


def fill(machine, count):
    return [
        ReadingFactory(machine=machine, taken_at=FIRST + timedelta(days=n), shows=Decimal(10 + n))
        for n in range(count)
    ]


def listed(farm, machine, role="technician", **asked):
    page = farm.client(role).get(reverse("machine-readings", args=[machine.pk]), asked)
    assert page.status_code == 200
    return page, list(page.context["page"])


def test_the_oldest_reading_is_reached_from_the_machines_page_and_put_right(farm, machine):
    old, *_ = fill(machine, PAGE + 3)
    client = farm.client("manager")
    address = reverse("machine-readings", args=[machine.pk])
    assert f'href="{address}"' in client.get(machine.get_absolute_url()).content.decode()
    first = client.get(address).content.decode()
    one = reverse("reading", args=[old.pk])
    assert f'href="{one}"' not in first
    assert "page=2" in first
    assert f'href="{one}"' in client.get(address, {"page": 2}).content.decode()
    assert reverse("held-reading-decide", args=[old.pk]) in client.get(one).content.decode()


def test_the_day_is_the_yards(farm, machine):
    with farm.scope():
        farm.yard.zone = "Pacific/Auckland"
        farm.yard.save()
    fill(machine, 3)  # at 11 UTC it is the next day there, from 1 January on
    _, found = listed(farm, machine, until="2026-01-03")
    assert [each.shows for each in found] == [11, 10]
    page, found = listed(farm, machine, until="2026-01-01")
    assert found == []
    assert "No readings up to that day." in unescape(page.content.decode())


@pytest.mark.parametrize("until", ["9999-12-31", "0001-01-01", "soon", "\0", "2026-02-30"])
def test_a_day_that_is_none_is_told_and_all_are_listed(farm, machine, until):
    fill(machine, 2)
    page, found = listed(farm, machine, until=until, page="x")
    assert len(found) == 2
    assert page.context["form"].errors["until"]


def test_whatever_became_of_a_reading_it_is_listed(farm, machine):
    take(farm, machine, "1100.0")
    take(farm, machine, "11240", days=7)
    _, found = listed(farm, machine)
    assert [each.state for each in found] == ["held", "counted"]


def test_without_a_reading_the_page_says_what_comes_here(farm, machine):
    page, _ = listed(farm, machine)
    assert "No readings yet." in page.content.decode()


def test_an_attachment_has_no_meter_and_a_strangers_machine_no_page(farm, stranger):
    for hidden in (farm.attachment(), stranger.machine()):
        address = reverse("machine-readings", args=[hidden.pk])
        assert farm.client("owner").get(address).status_code == 404


def test_more_readings_ask_no_more_queries(farm, machine):
    def asked():
        with CaptureQueriesContext(connection) as queries:
            listed(farm, machine)
        return len(queries)

    fill(machine, 2)
    before = asked()
    for each in range(20):
        take(farm, machine, str(20 + each), days=each)
    assert asked() == before
