"""Two people write into one order: both values stand side by side, and one of the two is chosen."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.browser.chromium import DESK, PHONE
from tests.browser.steps import BRAKES, day, done, plan_brakes
from tests.browser.test_axe import wrong

pytestmark = pytest.mark.browser
PEDAL = "Left brake pedal"
NOT_YET = "Choose which to keep."


def start(manager: Page) -> str:
    """As a manager, start an order of the brake check; return the address of its closing page."""
    _, tag = plan_brakes(manager, "Bea Lund")
    manager.get_by_role("button", name="Start").click()
    done(manager, f"{tag} is in the shop")
    manager.get_by_role("link", name="Enter what was done").click()
    return manager.url


def value(page: Page, check: str, moment: str):
    """Return the place for a value of a check, `as found` or `as left`."""
    return page.get_by_role("group", name=re.compile(f"^{check}")).get_by_label(moment)


def came(page: Page, outcome: str) -> None:
    page.get_by_role("group", name="Outcome").get_by_label(outcome, exact=True).check()


def question(page: Page, about: str):
    return page.get_by_role("group", name=re.compile(f"Which is right.*{about}"))


def cancel(page: Page, address: str) -> None:
    """Leave the tractor free for the next walk."""
    page.goto(address.removesuffix("close/"))
    page.get_by_text("Cancel this order:").click()
    page.locator("details.more[open] textarea").fill("Only a walk")
    page.get_by_role("button", name="Cancel the order").click()
    done(page, "is cancelled")


@pytest.mark.parametrize("phone", [False, True], ids=["at a desk", "on a phone"])
def test_both_values_are_shown_and_a_key_chooses(door, phone):
    manager = door.enter("tomas", phone=phone)
    address = start(manager)
    bea = door.enter("bea", phone=not phone)
    bea.goto(address)
    value(bea, PEDAL, "as found").fill("24")
    came(bea, "Done")
    bea.get_by_role("button", name="Save for later").click()
    done(bea, "is saved")

    value(manager, PEDAL, "as found").fill("26")
    came(manager, "Deferred")
    manager.get_by_label("Why it is deferred").fill("The slope is under water.")
    manager.get_by_label("Deferred until").fill(day(7))
    manager.get_by_role("button", name="Save for later").click()
    expect(manager.get_by_role("alert")).to_be_focused()
    pedal, what = question(manager, PEDAL), question(manager, "outcome")
    expect(pedal).to_contain_text(re.compile(r"24 mm \(recorded by Bea Lund"))
    expect(pedal).to_contain_text("26 mm (yours, as above)")
    expect(what).to_contain_text(re.compile(r"Done \(recorded by Bea Lund"))
    expect(what).to_contain_text("The slope is under water. (yours, as above)")
    expect(pedal.get_by_role("radio", checked=True)).to_have_count(0)
    for size in (DESK, PHONE):
        manager.set_viewport_size(size)
        assert wrong(manager, Axe()) == []
    manager.set_viewport_size(PHONE if phone else DESK)

    # Pressed again with one answer of two: refused, the other is asked for.
    manager.get_by_role("link", name=re.compile(PEDAL)).first.press("Enter")
    pedal.get_by_role("radio").first.press("Space")
    manager.get_by_role("button", name="Save for later").press("Enter")
    expect(manager.get_by_role("alert")).to_contain_text(NOT_YET)
    expect(pedal).to_have_count(0)
    expect(value(manager, PEDAL, "as found")).to_have_value("24")
    expect(what).to_contain_text(NOT_YET)
    for size in (DESK, PHONE):
        manager.set_viewport_size(size)
        assert wrong(manager, Axe()) == []
    manager.set_viewport_size(PHONE if phone else DESK)
    what.get_by_role("radio").first.focus()
    manager.keyboard.press("ArrowDown")
    expect(what.get_by_role("radio").last).to_be_checked()
    manager.get_by_role("button", name="Save for later").press("Enter")
    done(manager, "is saved")
    section = manager.locator("section", has=manager.get_by_role("heading", name=BRAKES))
    expect(section).to_contain_text("The slope is under water.")
    expect(section).to_contain_text("24 mm")
    cancel(manager, address)


def test_a_step_without_scripts_asks_and_takes_what_was_not_touched(door):
    manager = door.enter("tomas", scripts=False)
    address = start(manager)
    manager.goto(f"{address.removesuffix('close/')}steps/")
    step = manager.get_by_role("link", name=BRAKES).first
    manager.locator(".work-open summary").click()
    step.click()
    bea = door.enter("bea", phone=True)
    bea.goto(address)
    value(bea, PEDAL, "as found").fill("24")
    value(bea, "Right brake pedal", "as found").fill("25")
    bea.get_by_role("button", name="Save for later").click()
    done(bea, "is saved")

    value(manager, PEDAL, "as found").fill("26")
    manager.get_by_role("button", name="Save, next").click()
    expect(question(manager, PEDAL)).to_contain_text(re.compile(r"24 mm \(recorded by Bea Lund"))
    expect(value(manager, "Right brake pedal", "as found")).to_have_value("25")
    expect(manager.locator("main")).to_contain_text("You had not changed it here.")
    manager.get_by_role("button", name="Save, next").click()
    expect(question(manager, PEDAL)).to_contain_text(NOT_YET)
    question(manager, PEDAL).get_by_label("26 mm (yours, as above)").check()
    manager.get_by_role("button", name="Save, next").click()
    done(manager, "Saved.")
    cancel(manager, address)
