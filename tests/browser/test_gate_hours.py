"""The counter types hours with a decimal comma on a phone, and asks where a unit is spoken for."""

import re
from decimal import Decimal

import pytest
from playwright.sync_api import Page, expect

from tests.browser.steps import day, done, number
from tests.browser.test_yard_counter import go_out, take_back

pytestmark = pytest.mark.browser


def comma(hours: Decimal) -> str:
    return f"{hours:.1f}".replace(".", ",")


def narrow(page: Page) -> Page:
    page.set_viewport_size({"width": 390, "height": 844})
    return page


def test_a_comma_typed_at_the_gate_is_a_comma(door):
    page = narrow(door.enter("ravi", phone=True))
    tag = take_back(page)
    shown = number(page.get_by_text("The meter showed").inner_text().split("The meter showed")[1])
    box = page.get_by_label("Hours on the meter")
    expect(box).to_have_attribute("inputmode", "decimal")
    box.press_sequentially("1,120.5")
    page.get_by_role("button", name="Take it back").click()
    expect(page.get_by_role("alert")).to_contain_text("can be read in two ways")
    expect(box).to_have_value("1,120.5")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    box.fill("")
    typed = comma(shown + Decimal("0.4"))
    box.press_sequentially(typed)
    page.get_by_role("button", name="Take it back").click()
    answer = page.get_by_role("region", name=f"{tag} is back")
    answer.get_by_role("link", name=f"Show {tag}").click()
    assert number(page.locator(".figure").first.inner_text()) == Decimal(typed.replace(",", "."))


def test_hours_a_day_with_a_comma_are_asked_for_and_shown(door):
    page = narrow(door.enter("ravi", phone=True))
    tag = go_out(page)
    page.get_by_label("Who takes it").fill("Kestrel Paving")
    page.get_by_label("Due back").fill(day())
    page.get_by_label("Hours a day").press_sequentially("6,5")
    page.get_by_role("button", name="Send it out").click()
    done(page, f"{tag} is out")
    page.get_by_role("link", name=tag, exact=True).first.click()
    expect(page.get_by_text(re.compile(r"to run 6\.5\sh a day"))).to_be_visible()


def test_the_counter_asks_and_the_manager_sees_it_on_today(door):
    page = narrow(door.enter("ravi", phone=True))
    tag = go_out(page)
    out = page.url
    manager = door.enter("paul")
    machine = out.split("/gate/")[1].split("/")[0]
    manager.goto(f"/machines/{machine}/book/")
    manager.get_by_label("Who hires it").fill("Quarry Lane Paving")
    manager.get_by_label("First day").fill(day(1))
    manager.get_by_label("Last day").fill(day(1))
    manager.get_by_label("Hours a day").fill("5")
    manager.get_by_role("button", name="Save").click()
    done(manager, "is booked")

    page.goto(out)
    expect(page.locator(".verdict")).to_contain_text("Booked for Quarry Lane Paving")
    page.get_by_label("Who takes it").fill("Kestrel Paving")
    page.get_by_label("Due back").fill(day(2))
    page.get_by_role("button", name="Send it out").click()
    expect(page.get_by_role("alert")).to_contain_text("ask for it")
    page.get_by_label("Note for whoever decides").fill("One day more than usual")
    page.get_by_role("button", name="Ask for it").click()
    done(page, f"Asked: {tag}")

    manager.goto("/")
    asked = manager.get_by_role("region", name="Waiting for you")
    expect(asked).to_contain_text("One day more than usual")
    asked.get_by_role("link", name=re.compile(f"Answer.*{tag}")).click()
    manager.get_by_label("What was done").fill("Quarry Lane comes first; take the other one.")
    manager.get_by_role("button", name="Send the answer").click()
    done(manager, "is answered")
    expect(manager.get_by_role("heading", level=1)).to_have_text("Today")
    expect(manager.get_by_text("One day more than usual")).to_have_count(0)  # other walks may have asked too
    page.goto("/")
    expect(page.get_by_role("region", name="You asked for")).to_contain_text("Quarry Lane comes first")

    # The next walk finds the unit free.
    manager.goto(f"/machines/{machine}/")
    manager.get_by_role("link", name="Change the booking for Quarry Lane Paving").click()
    manager.get_by_role("button", name="Cancel this booking").click()
    done(manager, "cancelled")
