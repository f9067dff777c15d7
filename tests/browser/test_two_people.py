"""Two people close the same order: the second is told, and what was typed is still there."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.browser.steps import BRAKES, day, done, number, plan_brakes
from tests.browser.test_axe import wrong

pytestmark = pytest.mark.browser


def leave_everything(page: Page, why: str) -> None:
    """Fill in the closing form of an order that was looked at and left."""
    page.get_by_role("group", name="Outcome").get_by_label("Deferred", exact=True).check()
    page.get_by_label("Why it is deferred").fill(why)
    page.get_by_label("Deferred until").fill(day(7))
    meter = number(page.get_by_text("the meter showed").inner_text())
    page.get_by_label("meter", exact=False).last.fill(str(meter))


def test_the_second_to_close_is_told_and_loses_nothing(door):
    manager = door.enter("tomas")
    _, tag = plan_brakes(manager, "Bea Lund")
    manager.get_by_role("button", name="Start").click()
    done(manager, f"{tag} is in the shop")
    manager.get_by_role("link", name="Enter what was done").click()

    technician = door.enter("bea", phone=True)
    technician.goto(manager.url)
    leave_everything(technician, "The slope is under water.")
    technician.get_by_role("button", name="Close the order").click()
    done(technician, "is closed")

    leave_everything(manager, "No wheel blocks at hand.")
    manager.get_by_role("button", name="Close the order").click()
    expect(manager.get_by_role("alert")).to_contain_text("Bea Lund")
    expect(manager.get_by_text("What you typed is below.")).to_be_visible()
    expect(manager.get_by_label("Why it is deferred")).to_have_value("No wheel blocks at hand.")
    expect(manager.locator(".verdict-warn")).to_contain_text("under water. (recorded by Bea Lund, ")
    expect(manager.get_by_role("group", name="Which is right")).to_have_count(0)
    assert wrong(manager, Axe()) == []
    manager.get_by_role("link", name="the order as it is now").click()
    section = manager.locator("section", has=manager.get_by_role("heading", name=BRAKES))
    expect(section).to_contain_text("The slope is under water.")
