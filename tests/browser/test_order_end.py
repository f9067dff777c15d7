"""The end of an order on a phone: of which one half of a row was entered, it asks, and nothing is dropped."""

import pytest
from playwright.sync_api import expect

from tests.browser.phone import sign_in
from tests.browser.steps import BRAKES, mark, number
from tests.browser.test_failed_safety import fill_in_the_rest, save, step
from tests.browser.test_offline_order import KEPT, go_to, order_brakes_and_a_fault, outcome, status

pytestmark = pytest.mark.browser


def test_half_a_row_is_asked_about_at_its_field(door, phone):
    order, _ = order_brakes_and_a_fault(door.enter("tomas"))
    page = phone.open(line=True)
    sign_in(page, "niko")
    page.goto(f"{order}steps/")
    expect(status(page)).to_have_text(KEPT)
    go_to(page, BRAKES)
    fill_in_the_rest(page)
    mark(page, "Parking brake holds", "as found", "passes")
    outcome(page, "Done")
    save(page)
    expect(step(page).get_by_role("heading", level=2)).not_to_contain_text(BRAKES)
    go_to(page, "Lamp glass cracked")
    outcome(page, "Done")
    save(page)
    expect(step(page).get_by_role("heading", level=2)).to_have_text("Hours, time and parts")
    page.get_by_label("The hour meter shows").fill(
        str(number(page.get_by_text("the meter showed").inner_text()))
    )
    page.get_by_label("Niko Faro").fill("25")

    # A quantity without its part, a helper without minutes, another part without its quantity.
    for name in ("Another part 1", "Another part 2", "A helper 1", "A helper 2"):
        step(page).locator("summary", has_text=name).click()
    page.locator("[name=further-0-quantity]").fill("2")
    page.locator("[name=further-1-part]").select_option(index=1)
    page.locator("[name=helper-0-technician]").select_option(index=1)
    page.get_by_role("button", name="Close the order").click()
    expect(step(page)).to_contain_text("Not accepted: Choose the part.")
    expect(step(page)).to_contain_text("Not accepted: Enter how much was used.")
    expect(step(page)).to_contain_text("Not accepted: Enter the minutes.")
    expect(page.locator("[name=further-0-part]")).to_have_attribute("aria-invalid", "true")
    expect(page.locator("[name=further-0-quantity]")).to_have_value("2")
    expect(status(page)).to_contain_text("Not accepted: 3 entries.")

    # What only the house can tell is said at the field of the row, too; one part in two rows is added up.
    page.locator("[name=further-0-part]").select_option(index=1)
    page.locator("[name=further-1-quantity]").fill("one")
    page.locator("[name=helper-0-minutes]").fill("10")
    page.locator("[name=helper-1-technician]").select_option(index=1)
    page.locator("[name=helper-1-minutes]").fill("5")
    page.get_by_role("button", name="Close the order").click()
    expect(page.locator("[name=further-1-quantity]")).to_have_attribute("aria-invalid", "true")
    expect(page.locator("[name=further-0-quantity]")).not_to_have_attribute("aria-invalid", "true")
    expect(status(page)).to_contain_text("Not accepted: 1 entry.")

    page.locator("[name=further-1-quantity]").fill("1")
    page.get_by_role("button", name="Close the order").click()
    page.wait_for_url(f"**{order}")
    expect(page.locator(".state", has_text="closed").first).to_be_visible()
    expect(page.get_by_role("table").filter(has_text="Used").locator("[data-label=Used]")).to_contain_text(
        "3"
    )
    expect(page.get_by_role("row").filter(has_text="Bea Lund")).to_contain_text("15")
