"""Five tasks without a mouse: hours, a fault, an order, its closing, a unit out and back."""

import re
from decimal import Decimal

import pytest
from playwright.sync_api import expect

from tests.browser.keys import Keys
from tests.browser.own_machines import TRACTORS, UNITS
from tests.browser.steps import done, heading, machines, number, open_machine

pytestmark = pytest.mark.browser
FAULT = "Mirror arm is loose"


def test_hours_a_fault_an_order_and_its_closing(door):
    page = door.enter("tomas")
    tag = machines(page, TRACTORS)[-1]
    open_machine(page, tag)
    machine, hours = page.url, number(page.locator(".figure").first.inner_text())
    keys = Keys(page)

    # the hours
    keys.enter(page.locator("main").get_by_role("link", name="Enter hours"))
    keys.write(page.get_by_label("What the meter shows"), str(hours + Decimal("0.1")))
    keys.enter(page.get_by_role("button", name="Send"))
    expect(page.locator(".verdict .state")).to_have_text("counted")

    # a fault
    page.goto(machine)
    keys.enter(page.get_by_role("link", name="Report a fault"))
    keys.write(page.get_by_label("What is wrong"), FAULT)
    keys.choose(page.get_by_role("group", name="How bad is it"), "Can wait for the next service")
    keys.enter(page.get_by_role("button", name="Report the fault"))
    expect(page.get_by_text(FAULT).first).to_be_visible()

    # an order for it
    page.goto(machine)
    keys.enter(page.get_by_role("link", name="Make an order"))
    expect(page.get_by_role("heading", level=1)).to_have_text(f"An order for {tag}")
    for ticked in page.locator("[type=checkbox]:checked").evaluate_all("all => all.map(each => each.value)"):
        keys.tick(page.locator(f"[type=checkbox][value='{ticked}']"), on=False)
    keys.tick(page.locator("label.choice", has_text=FAULT).get_by_role("checkbox"))
    keys.pick(page.get_by_label("Technician"), "Bea Lund")
    keys.enter(page.get_by_role("button", name="Make the order"))
    done(page, "is planned")
    keys.enter(page.get_by_role("button", name="Start"))
    done(page, f"{tag} is in the shop")

    # its closing
    keys.enter(page.get_by_role("link", name="Enter what was done"))
    line = page.locator("[data-line]")
    keys.choose(line.get_by_role("group", name="Outcome"), "Deferred")
    keys.write(line.get_by_label("Why it is deferred"), "No bolt of that size")
    keys.choose(line.get_by_role("group", name="Outcome"), "Done")
    keys.write(page.get_by_label("Bea Lund"), "1:15")
    keys.write(page.get_by_label("The hour meter shows"), str(hours + Decimal("0.2")))
    keys.enter(page.get_by_role("button", name="Close the order"))
    done(page, "is closed")
    expect(page.get_by_role("row").filter(has_text="Bea Lund")).to_contain_text("75")


def test_a_unit_goes_out_and_comes_back(door):
    page = door.enter("ravi")
    keys = Keys(page)
    keys.enter(page.get_by_role("link", name="Gate", exact=True))
    ready = page.get_by_role("link", name=re.compile(f"^Send out {UNITS}"))
    keys.enter(ready.last)
    expect(page.get_by_role("heading", level=1)).to_contain_text("goes out")
    tag = heading(page).removesuffix(" goes out")
    keys.write(page.get_by_label("Who takes it"), "Alder Groundworks")
    keys.choose(page.get_by_role("group", name="Fuel"), "7/8")
    keys.enter(page.get_by_role("button", name="Send it out"))
    done(page, f"{tag} is out")

    keys.enter(page.locator("summary", has_text="due back later"))
    keys.enter(page.get_by_role("link", name=f"Take back {tag}"))
    expect(page.get_by_role("heading", level=1)).to_have_text(f"{tag} comes back")
    expect(page.get_by_text("tank 88 % full")).to_be_visible()
    keys.choose(page.get_by_role("group", name="Fuel"), "Half")
    keys.write(page.get_by_label("Note"), "Clean")
    keys.enter(page.get_by_role("button", name="Take it back"))
    expect(page.get_by_role("region", name=f"{tag} is back")).to_be_visible()
