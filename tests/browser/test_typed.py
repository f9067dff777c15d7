"""What is typed at a desk stays on the device until the server has it."""

import re

import pytest
from playwright.sync_api import Page, expect

from fixtures.demo.people import PASSWORD
from tests.browser.line import Line
from tests.browser.own_machines import TRACTORS
from tests.browser.steps import day, done, machines, open_machine, plan_brakes

pytestmark = pytest.mark.browser

BACK = "is back. It is only on this device"
AS_BEFORE = """() => {
    for (const [key, kept] of Object.entries(localStorage)) {
        const former = kept.replaceAll("deferred_until", "put_off_until").replaceAll('"deferred"', '"left"');
        localStorage.setItem(key, former);
    }
}"""
"""Makes what is kept on this device what the version before would have kept."""


def sign_in(page: Page, username: str, site: str = "") -> None:
    """Sign in on this device, where nobody is signed in."""
    page.goto(f"{site}/sign-in/")
    page.get_by_label("Name or mail address").fill(username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_label("Password").press("Enter")
    page.wait_for_url(re.compile(r"^[^?]*:\d+/$"))


def started_order(page: Page) -> str:
    """Plan and start an order for the brakes; return the address of its closing page."""
    plan_brakes(page, "Bea Lund")
    page.get_by_role("button", name="Start").click()
    done(page, "is in the shop")
    page.get_by_role("link", name="Enter what was done").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("what was done")
    return page.url


def fill(page: Page) -> None:
    page.get_by_role("group", name="Outcome").get_by_label("Deferred", exact=True).check()
    page.get_by_label("Why it is deferred").fill("No wheel blocks at hand.")
    page.get_by_label("Deferred until").fill(day(7))
    page.get_by_label("Tomas Reyl").or_(page.get_by_label("Bea Lund")).first.fill("35")


def expect_filled(page: Page) -> None:
    expect(page.get_by_text(BACK)).to_be_visible()
    came = page.get_by_role("group", name="Outcome")
    expect(came.get_by_label("Deferred", exact=True)).to_be_checked()
    expect(page.get_by_label("Why it is deferred")).to_be_visible()
    expect(page.get_by_label("Why it is deferred")).to_have_value("No wheel blocks at hand.")
    expect(page.get_by_label("Deferred until")).to_have_value(day(7))
    expect(page.get_by_label("Bea Lund").first).to_have_value("35")


def test_the_closing_page_keeps_what_was_typed_until_it_is_saved(door):
    page = door.enter("tomas")
    address = started_order(page)
    fill(page)
    page.reload()
    expect_filled(page)
    page.evaluate(AS_BEFORE)
    page.reload()
    expect_filled(page)

    page.get_by_role("link", name="Job sheet").click()
    expect(page.get_by_role("link", name="Enter a filled-in sheet")).to_be_visible()
    page.go_back()
    page.wait_for_load_state()
    expect(page.get_by_label("Why it is deferred")).to_have_value("No wheel blocks at hand.")
    page.goto("/machines/")
    page.goto(address)
    expect_filled(page)

    # sent back by the server: what is on the page then is kept too
    page.get_by_role("button", name="Close the order").click()
    expect(page.get_by_role("alert")).to_contain_text("Not saved yet")
    page.get_by_label(re.compile("^Note")).first.fill("Come back on Tuesday.")
    page.goto(address)
    expect_filled(page)
    expect(page.get_by_label(re.compile("^Note")).first).to_have_value("Come back on Tuesday.")

    # another member at this device sees nothing of it
    page.context.clear_cookies()
    sign_in(page, "bea")
    page.goto(address)
    expect(page.get_by_label("Why it is deferred")).to_have_value("")
    expect(page.get_by_text(BACK)).to_have_count(0)

    page.context.clear_cookies()
    sign_in(page, "tomas")
    page.goto(address)
    expect_filled(page)
    page.get_by_role("button", name="Save for later").click()
    done(page, "is saved. It is not closed yet")
    page.goto(address)
    expect(page.get_by_label("Why it is deferred")).to_have_value("No wheel blocks at hand.")
    expect(page.get_by_text(BACK)).to_have_count(0)


def fault_page(page: Page) -> str:
    tag = machines(page, TRACTORS)[0]
    open_machine(page, tag)
    page.get_by_role("link", name=re.compile("fault", re.IGNORECASE)).first.click()
    expect(page.get_by_role("button", name="Report the fault")).to_be_visible()
    return page.url


def test_a_sign_in_that_ended_meanwhile_loses_nothing(door):
    page = door.enter("ines")
    address = fault_page(page)
    page.get_by_label("What is wrong").fill("Hose weeps at the coupling.")
    page.context.clear_cookies(name="sessionid")
    page.get_by_role("button", name="Report the fault").click()
    page.wait_for_load_state()
    sign_in(page, "ines")
    page.goto(address)
    expect(page.get_by_label("What is wrong")).to_have_value("Hose weeps at the coupling.")
    expect(page.get_by_text(BACK)).to_be_visible()
    page.get_by_role("button", name="Discard it").click()
    expect(page.get_by_text(BACK)).to_have_count(0)
    expect(page.get_by_label("What is wrong")).to_have_value("")


def test_a_line_that_is_cut_loses_nothing(door, site):
    line = Line(site)
    page = door.open()
    sign_in(page, "ines", line.address)
    page.goto(f"{line.address}/machines/")
    tag = page.get_by_role("link", name=re.compile(f"^{TRACTORS}")).first.inner_text()
    page.get_by_role("link", name=tag, exact=True).first.click()
    page.wait_for_url(re.compile(r"/machines/(\d+/|\?beside=)"))
    page.get_by_role("link", name=re.compile("fault", re.IGNORECASE)).first.click()
    address = page.url
    page.get_by_label("What is wrong").fill("Guard is bent.")
    line.cut()
    page.get_by_role("button", name="Report the fault").click()
    page.wait_for_url("chrome-error://**")
    line.join()
    page.goto(address)
    expect(page.get_by_label("What is wrong")).to_have_value("Guard is bent.")
    expect(page.get_by_text(BACK)).to_be_visible()
    page.get_by_role("button", name="Report the fault").click()
    expect(page.get_by_text("Guard is bent.").first).to_be_visible()
    page.goto(address)
    expect(page.get_by_label("What is wrong")).to_have_value("")
    line.close()


def test_a_value_that_changed_meanwhile_is_said_beside_what_was_typed(door):
    page = door.enter("tomas")
    address = started_order(page)
    fill(page)

    other = door.enter("bea", phone=True)
    other.goto(address)
    other.get_by_role("group", name="Outcome").get_by_label("Referred", exact=True).check()
    other.get_by_label("Why it is deferred").fill("Cylinder leaks; the dealer has the seals.")
    other.get_by_role("button", name="Save for later").click()
    done(other, "is saved. It is not closed yet")

    page.reload()
    expect_filled(page)
    said = page.locator(".wrong")
    expect(said.filter(has_text="Changed meanwhile to: Cylinder leaks")).to_be_visible()
    expect(said.filter(has_text="Changed meanwhile to: Referred")).to_be_visible()

    # Sent from the page as it was typed on, it is asked about, with who and when.
    page.get_by_role("button", name="Save for later").click()
    question = page.get_by_role("group", name=re.compile("^Which is right"))
    expect(question).to_contain_text("Referred: Cylinder leaks; the dealer has the seals.")
    expect(question).to_contain_text("(recorded by Bea Lund, ")
    question.get_by_role("radio").first.check()
    page.get_by_role("button", name="Save for later").click()
    done(page, "is saved. It is not closed yet")
    expect(page.locator("main")).to_contain_text("Cylinder leaks")
