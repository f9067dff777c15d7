"""The gate: its list and what stands on it, who may use its pages, as the counter uses them."""

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.models import Hire, Machine, TagOut
from servicing.models import Fault
from tests.factories import DutyFactory
from tests.servicing.gate.hire_units import NOW
from tests.servicing.web.gate_pages import duty, faults, hire, page, section, tag_out, unit

pytestmark = pytest.mark.time_machine(NOW, tick=False)


# ------------------------------------------------------------------ out and back


def test_units_stand_under_what_can_be_done_with_them(farm):
    unit(farm, "T-01")
    duty(unit(farm, "T-02"), 90, task__title="Engine oil")
    tag_out(unit(farm, "T-03"), farm.technician)
    hire(unit(farm, "T-04"), due_back_on=date(2026, 5, 1))
    hire(unit(farm, "T-05"), due_back_on=date(2026, 5, 3), hirer="Pau Vila")
    unit(farm, "T-06", for_hire=False)
    unit(farm, "T-07", in_shop_since=NOW)
    html = page(farm)
    assert "1 ready, 2 out, 1 to be serviced first, 2 kept in." in html
    assert "T-01" in section(html, "Ready")
    assert "Engine oil is overdue: due at 90.0 h, now 100.0 h." in section(html, "Service first")
    kept = section(html, "Tagged out or in the shop")
    assert f"Tagged out by {farm.technician} on 3 May 2026: Brakes failed." in kept
    assert "T-07" in kept
    out = section(html, "Out now")
    assert "Gala Ros, was due Fri 1 May, 2 days overdue" in out
    assert "Pau Vila, due back Sun 3 May" in out
    assert out.index("T-04") < out.index("T-05")
    assert "T-06" not in html


@pytest.mark.parametrize("place", ["gate", "today", "machine", "gate-in"])
def test_the_note_of_a_hire_is_shown_where_it_is_wanted(farm, place):
    machine = unit(farm)
    hire(machine, note="Trailer <b>too</b>", out_by=farm.manager, due_back_on=date(2026, 5, 3))
    path = reverse(place, args=[machine.pk] if place in ("machine", "gate-in") else [])
    html = page(farm, role="owner", path=path)
    assert "Trailer &lt;b&gt;too&lt;/b&gt;" in html
    assert f"{farm.manager}, Wed 29 Apr, 12:00" in html.replace("\u202f", " ")


ROLES = ("owner", "manager", "technician", "counter")
TABLE = [
    ("gate", (200, 200, 403, 200)),
    ("gate-out", (200, 200, 403, 200)),
    ("gate-in", (200, 200, 403, 200)),
    ("fault-new", (200, 200, 200, 200)),
    ("tag-out", (200, 200, 200, 200)),
    ("tag-out-clear", (200, 200, 403, 403)),
]


# ------------------------------------------------------------------ who may, odd addresses, queries


@pytest.mark.parametrize(("name", "role", "status"), [
    (name, role, status) for name, row in TABLE for role, status in zip(ROLES, row, strict=True)
])  # fmt: skip
def test_who_may(farm, name, role, status):
    machine = unit(farm)
    pk = tag_out(machine, farm.owner).pk if name == "tag-out-clear" else machine.pk
    path = reverse(name, args=[] if name == "gate" else [pk])
    assert farm.client(role).get(path).status_code == status
    assert farm.client(role).post(path, {}).status_code == status


@pytest.mark.parametrize("name", ["gate-out", "gate-in", "fault-new", "tag-out", "tag-out-clear"])
def test_strangers_find_nothing(farm, stranger, name):
    machine = unit(farm)
    pk = tag_out(machine, farm.owner).pk if name == "tag-out-clear" else machine.pk
    browser = stranger.client("owner")
    assert browser.get(reverse(name, args=[pk])).status_code == 404
    data = {"hirer": "x", "reason": "x", "text": "x", "severity": "note", **faults()}
    assert browser.post(reverse(name, args=[pk]), data).status_code == 404
    assert "T-07" not in page(stranger)
    with farm.scope():
        assert TagOut.objects.open().count() == (name == "tag-out-clear")
        assert not Hire.objects.exists()
        assert not Fault.objects.exists()


@pytest.mark.parametrize("back", ["x", "²", "999999", ""])
def test_odd_addresses_still_show_the_gate(farm, back):
    assert "can it go out again today" not in page(farm, back=back)


def test_same_queries_for_10_and_200_machines(farm):
    def cost(machines):
        task = DutyFactory(machine__organisation=farm.organisation).task
        for n in range(machines):
            machine = farm.machine(type=task.version.program.machine_type, for_hire=True)
            DutyFactory(machine=machine, task=task, mark_hours=Decimal(n % 2 * 100))
            if n % 3 == 0:
                hire(machine)
            if n % 5 == 0:
                tag_out(machine, farm.manager)
        browser = farm.client("owner")
        with CaptureQueriesContext(connection) as queries:
            assert browser.get("/gate/").status_code == 200
        with farm.scope():
            assert Machine.objects.filter(for_hire=True).count() >= machines
        return len(queries)

    assert cost(10) == cost(190)
