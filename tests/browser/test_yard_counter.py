"""The yard counter asks: this unit is back, can it go out again today?"""

import re
from decimal import Decimal

import pytest
from playwright.sync_api import Page, expect

from tests.browser.own_machines import UNITS
from tests.browser.steps import day, done, heading, number

pytestmark = pytest.mark.browser


def take_back(page: Page) -> str:
    """Open the form for the first unit that is out; return its tag."""
    page.goto("/gate/")
    entry = page.get_by_role("region", name="Out now").locator("li.entry").first
    tag = entry.get_by_role("link").first.inner_text()
    entry.get_by_role("link", name="Take back").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"{tag} comes back")
    return tag


def go_out(page: Page) -> str:
    """Open the form for a ready unit of the walks' own; return its tag."""
    page.goto("/gate/")
    ready = page.get_by_role("region", name="Ready").get_by_role(
        "link", name=re.compile(f"^Send out {UNITS}")
    )
    ready.first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("goes out")
    return heading(page).removesuffix(" goes out")


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_back_with_hours_fuel_a_fault_and_a_photo(door, photo, scripts):
    page = door.enter("ravi", phone=True, scripts=scripts)
    tag = take_back(page)
    hours = number(page.get_by_text("The meter showed").inner_text().split("The meter showed")[1])
    page.get_by_label("Hours on the meter").fill(str(hours + Decimal("0.5")))
    page.get_by_role("group", name="Fuel").get_by_label("3/4", exact=True).check()
    fault = page.get_by_role("group", name="Walk round it")
    fault.get_by_label("What is wrong").fill("Hydraulic hose at the boom is split")
    fault.get_by_label("Must be fixed before it goes out").check()
    fault.get_by_label("Photo").set_input_files(photo)
    page.get_by_role("button", name="Take it back").click()

    answer = page.get_by_role("region", name=f"{tag} is back")
    expect(answer.locator(".verdict")).to_contain_text("Hydraulic hose at the boom is split")
    expect(answer.locator(".verdict .state")).not_to_have_text("ready")
    answer.get_by_role("link", name=f"Show {tag}").click()
    assert number(page.locator(".figure").first.inner_text()) >= hours
    seen = page.request.get(page.get_by_role("link", name="photo").get_attribute("href") or "")
    assert seen.status == 200
    assert seen.headers["content-type"] == "image/jpeg"


def test_a_ready_unit_goes_out(door):
    page = door.enter("ravi")
    tag = go_out(page)
    expect(page.locator(".verdict .state")).to_have_text("ready")
    page.get_by_label("Who takes it").fill("Kestrel Paving")
    page.get_by_label("Due back").fill(day())  # before the bookings that other walks made
    page.get_by_role("button", name="Send it out").click()
    done(page, f"{tag} is out")
    entry = page.get_by_role("region", name="Out now").locator("li.entry", has_text=tag)
    expect(entry).to_contain_text("Kestrel Paving")


def test_a_tagged_out_unit_stays_in_and_the_page_says_why(door):
    page = door.enter("ravi")
    tag = go_out(page)
    colleague = door.enter("sami", phone=True)
    colleague.goto(f"/machines/?word={tag}")
    colleague.get_by_role("link", name=tag, exact=True).first.click()
    colleague.get_by_role("link", name="Tag out").click()
    colleague.get_by_label("What is wrong").fill("Seat switch is bridged.")
    colleague.locator("main form button").click()
    expect(colleague.get_by_text("Seat switch is bridged.").first).to_be_visible()

    page.get_by_label("Who takes it").fill("Kestrel Paving")
    page.get_by_role("button", name="Send it out").click()
    expect(page.get_by_text("It can't go out.")).to_be_visible()
    expect(page.locator(".verdict")).to_contain_text("Sami Holt")
    expect(page.locator(".verdict")).to_contain_text("Seat switch is bridged.")
    page.goto("/gate/")
    expect(page.get_by_role("region", name="Tagged out or in the shop")).to_contain_text(tag)
    expect(page.get_by_role("link", name=f"Send out {tag}", exact=True)).to_have_count(0)
