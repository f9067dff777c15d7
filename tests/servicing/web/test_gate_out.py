"""Units go out at the gate, as the counter sends them."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from fleet.models import Hire, Reading
from servicing.models import Fault
from tests.factories import DutyFactory
from tests.servicing.gate.hire_units import NOW
from tests.servicing.web.gate_pages import duty, faults, hire, page, picture, section, tag_out, unit

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_out_and_back_with_the_answer_at_the_top(farm):
    machine = unit(farm)
    duty(machine, 105, task__title="Engine oil")
    counter = farm.client("counter")
    path = reverse("gate-out", args=[machine.pk])
    assert "Nothing keeps it in." in page(farm, path=path)
    asked = {"hirer": "Gala Ros", "due_back_on": "2026-05-06", "shows": "101.5", "fuel": "100", "note": ""}
    gone = counter.post(path, asked)
    assert (gone.status_code, gone.url) == (302, "/gate/")
    with farm.scope():
        out = Hire.objects.get()
    assert (out.hours_out, out.fuel_out, out.due_back_on) == (Decimal("101.5"), 100, date(2026, 5, 6))

    path = reverse("gate-in", args=[machine.pk])
    assert "from Gala Ros" in page(farm, path=path)
    with time_machine.travel(NOW + timedelta(days=1), tick=False):
        data = {
            "shows": "108",
            "fuel": "50",
            "note": "",
            **faults({"text": "Hose bulging", "severity": "stops", "photo": picture()}),
        }
        answer = counter.post(path, data, follow=True)
    assert answer.redirect_chain == [(f"/gate/?back={machine.pk}", 302)]
    html = answer.content.decode().replace("\xa0", " ")
    top = section(html, "T-07 is back: can it go out again today?")
    assert "Engine oil is overdue: due at 105.0 h, now 108.0 h." in top
    assert "Hose bulging" in top
    assert html.index("is back: can it") < html.index(">Out now<")
    with farm.scope():
        fault = Fault.objects.get()
        machine.refresh_from_db()
    assert (fault.found_at, fault.reported_by) == ("gate", farm.counter)
    assert fault.photo.size > 0
    assert machine.hours == 108


def test_tagged_out_has_no_form_and_posting_anyway_is_refused(farm):
    machine = unit(farm)
    tag_out(machine, farm.technician)
    path = reverse("gate-out", args=[machine.pk])
    html = page(farm, "owner", path)
    assert f"Tagged out by {farm.technician}" in html
    assert 'name="hirer"' not in html
    asked = {
        "hirer": "Gala",
        "anyway_reason": "Must go",
        "due_back_on": "",
        "shows": "",
        "fuel": "",
        "note": "",
    }
    answer = farm.client("owner").post(path, asked)
    assert answer.status_code == 200
    assert "T-07 can&#x27;t go out. Tagged out by" in answer.content.decode()
    with farm.scope():
        assert not Hire.objects.exists()


def test_service_first_is_the_planners_to_override(farm):
    machine = unit(farm)
    duty(machine, 90)
    path = reverse("gate-out", args=[machine.pk])
    asked = {"hirer": "Gala", "due_back_on": "", "shows": "", "fuel": "", "note": ""}
    assert "anyway_reason" not in page(farm, "counter", path)
    refused = farm.client("counter").post(path, {**asked, "anyway_reason": "Must go"})
    assert "Someone who plans the work can send it out anyway" in refused.content.decode()
    assert "Send out anyway" not in page(farm, "counter")
    assert "Send out anyway" in page(farm, "manager")
    refused = farm.client("manager").post(path, asked)
    assert "To send it out anyway, say why" in refused.content.decode()
    assert 'value="Gala"' in refused.content.decode()
    gone = farm.client("manager").post(path, {**asked, "anyway_reason": "Short day"})
    assert gone.status_code == 302
    with farm.scope():
        [kept] = Hire.objects.get().overrulings()
        assert (kept.by, kept.reason) == (str(farm.manager), "Short day")


def test_length_of_the_hire_is_judged_when_the_form_comes(farm):
    machine = unit(farm)
    DutyFactory(
        machine=machine,
        mark_hours=Decimal(300),
        task__title="Engine oil",
        early=date(2026, 5, 10),
        likely=date(2026, 5, 15),
        late=date(2026, 5, 25),
    )
    asked = {"hirer": "Gala", "due_back_on": "2026-05-16", "shows": "", "fuel": "", "note": ""}
    path = reverse("gate-out", args=[machine.pk])
    answer = farm.client("counter").post(path, asked).content.decode()
    assert "Engine oil will probably fall due (5 to 9 chances in 10) before it is back" in answer
    assert farm.client("counter").post(path, {**asked, "due_back_on": "2026-05-09"}).status_code == 302


@pytest.mark.parametrize("way", ["gate-out", "gate-in"])
def test_a_decimal_comma_is_hours_and_a_text_box_asks_for_them(farm, way):
    machine = unit(farm)
    if way == "gate-in":
        hire(machine)
    path = reverse(way, args=[machine.pk])
    box = page(farm, path=path).split('name="shows"')[0].rsplit("<input", 1)[1]
    assert 'type="text"' in box
    refused = farm.client("counter").post(
        path, {"hirer": "Gala Ros", "shows": "1,120.5", "hours_a_day": "6,5x", **faults()}
    )
    html = refused.content.decode()
    assert "can be read in two ways" in html
    assert 'value="1,120.5"' in html
    if way == "gate-out":
        assert 'value="6,5x"' in html
    answer = farm.client("counter").post(
        path, {"hirer": "Gala Ros", "shows": "100,5", "hours_a_day": "6,5", **faults()}
    )
    assert answer.status_code == 302
    with farm.scope():
        assert Reading.objects.latest("pk").shows == Decimal("100.5")
        if way == "gate-out":
            assert Hire.objects.get().hours_a_day == Decimal("6.5")


def test_the_second_who_sends_it_out_is_told_by_whom_and_can_use_what_was_typed(farm):
    machine = unit(farm)
    path = reverse("gate-out", args=[machine.pk])
    first = {"hirer": "Gala Ros", "due_back_on": "2026-05-06", "shows": "101.5", "note": "With trailer"}
    assert farm.client("manager").post(path, first).status_code == 302
    typed = {"hirer": "Pau <b>Vila</b>", "due_back_on": "2026-05-08", "shows": "101,7", "fuel": "50"}
    html = (
        farm.client("counter").post(path, typed).content.decode().replace("\xa0", " ").replace("\u202f", " ")
    )
    told = f"It has been out with Gala Ros since Sun 3 May at 12:00, sent out by {farm.manager}"
    assert f"{told}, due back Wed 6 May, at 101.5 h." in html
    assert "With trailer" in html
    mine = html.split(">What you typed</h2>")[1]
    for said in ("Pau &lt;b&gt;Vila&lt;/b&gt;", "Fri 8 May", "101,7", "Half"):
        assert said in mine
    reading = f"{reverse('reading-new')}?machine={machine.pk}&shows=101%2C7"
    assert reading.replace("&", "&amp;") in mine
    assert 'value="101,7"' in page(farm, path=reverse("reading-new"), machine=machine.pk, shows="101,7")
    with farm.scope():
        assert Hire.objects.get().hirer == "Gala Ros"
