"""Units come back at the gate, as the counter takes them in."""

from datetime import date
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from fleet.models import Hire, Machine, Reading
from servicing.models import Fault
from tests.sent_form import as_sent
from tests.servicing.gate.hire_units import NOW
from tests.servicing.web.gate_pages import faults, hire, page, picture, section, unit

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_held_hours_are_said_and_the_return_goes_on(farm):
    machine = unit(farm)
    hire(machine)
    answer = farm.client("counter").post(
        reverse("gate-in", args=[machine.pk]),
        {"shows": "1080", "fuel": "", "note": "", **faults()},
        follow=True,
    )
    assert "are held and don&#x27;t count yet" in answer.content.decode().replace("\xa0", " ")
    with farm.scope():
        assert Hire.objects.get().back_at == NOW
        assert Reading.objects.get(source="gate").state == "held"


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"shows": "12x"}, "Give the number as the meter shows it"),
        ({"shows": "1,120.5"}, "can be read in two ways"),
        ({"shows": "-1"}, "Give 0 h or more."),
        ({"faults-0-photo": SimpleUploadedFile("a.jpg", b"not a photo")}, "This file is not a photo"),
        ({"faults-0-text": "", "faults-0-photo": "picture"}, "Say what the photo shows."),
    ],
)
def test_wrong_entries_are_said_at_their_field_and_nothing_is_kept(farm, wrong, said):
    machine = unit(farm)
    hire(machine)
    data = {"shows": "101", "fuel": "", "note": "Muddy", **faults({"text": "Leak"}), **wrong}
    data = {name: picture() if value == "picture" else value for name, value in data.items()}
    answer = farm.client("counter").post(reverse("gate-in", args=[machine.pk]), data)
    html = answer.content.decode().replace("\xa0", " ")
    assert answer.status_code == 200
    assert said in html.split('class="field')[0]  # in the box at the top
    assert html.count(said) >= 2  # and at the field
    assert "Muddy" in html
    with farm.scope():
        assert Hire.objects.get().back_at is None
        assert not Fault.objects.exists()


def test_second_return_says_who_took_it_in(farm):
    machine = unit(farm)
    hire(machine, back_at=NOW, back_by=farm.manager)
    path = reverse("gate-in", args=[machine.pk])
    assert "This unit is not out." in page(farm, path=path)
    answer = farm.client("counter").post(path, {"shows": "", "fuel": "", "note": "", **faults()})
    assert f"It was taken back by {farm.manager} on Sun 3 May at 12:00" in answer.content.decode().replace(
        "\xa0", " "
    )


def test_the_second_who_takes_it_back_keeps_what_was_typed_beside_the_return(farm):
    machine = unit(farm)
    hire(machine, note="With trailer", out_by=farm.counter)
    path = reverse("gate-in", args=[machine.pk])
    sent = as_sent(page(farm, path=path))
    assert farm.client("manager").post(path, sent | {"note": "Muddy", "fuel": "50"}).status_code == 302
    typed = (
        sent | {"shows": "101.5", "fuel": "25", "note": "Mirror gone"} | faults({"text": "Mirror cracked"})
    )
    second = farm.client("counter")
    html = second.post(path, typed).content.decode().replace("\xa0", " ")
    assert f"It was taken back by {farm.manager} on Sun 3 May at 12:00 from Gala Ros" in html
    again = as_sent(html)
    assert (again["shows"], again["note"], again["faults-0-text"]) == (
        ["101.5"],
        ["Mirror gone"],
        ["Mirror cracked"],
    )
    assert "fuel" not in again, "the tank was recorded, and stays so"
    assert "Take it back" not in html
    kept = second.post(path, again | {"late": "yes"}, follow=True)
    assert "Added to the return of" in kept.content.decode()
    with farm.scope():
        ended = Hire.objects.get()
        assert (ended.hours_back, ended.fuel_back, ended.back_by) == (Decimal("101.5"), 50, farm.manager)
        assert Fault.objects.get().text == "Mirror cracked"
    html = page(farm, path=machine.get_absolute_url())
    for said in ("With trailer", "Muddy", f"Mirror gone ({farm.counter}, 3 May 2026)"):
        assert said in html


def test_a_page_of_an_ended_hire_never_ends_the_next(farm):
    machine = unit(farm)
    hire(machine)
    path = reverse("gate-in", args=[machine.pk])
    sent = as_sent(page(farm, path=path))
    assert farm.client("manager").post(path, sent).status_code == 302
    with farm.scope():
        hire(machine, hirer="Pau Vila", out_at=NOW)
    for _ in range(2):
        html = (
            farm.client("counter").post(path, sent | {"note": "Muddy"}).content.decode().replace("\xa0", " ")
        )
        assert "It has been out with Pau Vila since Sun 3 May at 12:00" in html
        assert as_sent(html)["note"] == ["Muddy"]
    with farm.scope():
        assert Hire.objects.open().get().hirer == "Pau Vila"


def test_a_unit_retired_while_out_can_still_come_back_and_not_go_again(farm):
    machine = unit(farm)
    hire(machine)
    with farm.scope():
        Machine.objects.filter(pk=machine.pk).update(retired_on=date(2026, 5, 2))
    assert "T-07" in section(page(farm), "Out now")
    data = {"shows": "", "fuel": "", "note": "", **faults()}
    assert farm.client("counter").post(reverse("gate-in", args=[machine.pk]), data).status_code == 302
    assert "T-07" not in page(farm)
    html = page(farm, path=reverse("gate-out", args=[machine.pk]))
    assert "T-07 was retired on Sat 2 May." in html
    assert 'name="hirer"' not in html
