"""One panel wherever work can hurt: steps, sheet, closing, programme, tag-out."""

import re

import pytest
from django.urls import reverse

from servicing import workorders
from tests.servicing.web.order_pages import NOW

pytestmark = pytest.mark.time_machine(NOW, tick=False)


@pytest.fixture
def warned(farm, machine, duty, order):
    """An order at work, with a caution before its first step."""
    with farm.scope():
        duty.task.steps = ["Press the belt."]
        duty.task.save()
        duty.task.cautions.create(
            organisation=farm.organisation,
            hazard="rotating",
            signal="danger",
            actions=["key-out"],
            text="Wait for the fan.",
            before_step=1,
        )
        return workorders.start(order=order, member=farm.technician, revision=order.revision)


def panels(page):
    """Each panel of a page: its class, its words, the signs it draws."""
    found = re.findall(r'<div class="caution (caution-\w+)" role="note">(.*?)\n  </div>\n</div>', page, re.S)
    return [
        (
            kind,
            " ".join(re.sub(r"<[^>]+>", " ", inside).replace("&#x27;", "'").split()),
            re.findall(r"#([a-z-]+)\"", inside),
        )
        for kind, inside in found
    ]


PANEL = (
    "caution-danger",
    "Danger Rotating parts Wait for the fan. Engine off, key out",
    ["general", "rotating", "key-out"],
)
PLACES = ["order-steps", "order-sheet", "order-close"]


@pytest.mark.parametrize("name", PLACES)
def test_the_same_panel_in_each_place_of_an_order(farm, duty, warned, name):
    if name == "order-close":  # names no steps, so shows what stands before the first
        with farm.scope():
            duty.task.cautions.update(before_step=0)
    page = farm.client("technician").get(reverse(name, args=[warned.pk])).content.decode()
    assert PANEL in panels(page)


def test_and_in_the_programme(farm, duty, warned):
    with farm.scope():
        address = reverse("program", args=[duty.task.version.program_id])
    page = farm.client("manager").get(address).content.decode()
    assert PANEL in panels(page)


def test_the_first_screen_of_the_steps_names_a_sign_that_is_kept_with_the_page(farm, warned):
    """offline/pages.js keeps each file that a `use` of the page names."""
    page = farm.client("technician").get(reverse("order-steps", args=[warned.pk])).content.decode()
    ready = page.split('data-step="1"')[1].split("</section>")[0]
    assert '<use href="/static/hourmark/hazards.svg#' in ready
    kept = page.split("<template data-must-not-run>")[1].split("</template>")[0]
    assert "Do not start it" in kept


def test_a_tag_out_says_what_not_to_do_before_and_after(farm, machine, order):
    client = farm.client("manager")
    form = reverse("tag-out", args=[machine.pk])
    (told,) = panels(client.get(form).content.decode())
    assert told[0] == "caution-warning"
    assert told[1].endswith("The maker's manual, local rules and licensed practice come first.")
    assert told[2] == ["general", "no-start", "key-out", "lower"]
    pages = [
        machine.get_absolute_url(),
        order.get_absolute_url(),
        reverse("gate-out", args=[machine.pk]),
    ]
    for address in pages:
        assert "Do not start it" not in client.get(address).content.decode(), address
    assert client.post(form, {"reason": "Brake slips"}).status_code == 302
    for address in pages:
        page = client.get(address).content.decode()
        verdict = page.split('<div class="verdict verdict-stop">')[1]
        assert verdict.index("Brake slips") < verdict.index("Do not start it") < verdict.index("key out"), (
            address
        )
