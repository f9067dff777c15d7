"""The closing page: lines folded on a phone, all of them open on a desk."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.steps import done, mark
from tests.browser.test_offline_order import cancel, order_brakes_and_a_fault

pytestmark = pytest.mark.browser
THUMB = 44  # CSS pixels, the target size of WCAG 2.2, 2.5.5


@pytest.fixture
def order(door):
    """An order of two tasks, started; cancelled at the end, so that the tractor is free for the next walk."""
    manager = door.enter("tomas")
    path, _ = order_brakes_and_a_fault(manager)
    yield path
    cancel(manager, path, "Only a walk")


def line(page: Page, number: int):
    return page.locator("[data-line]").nth(number)


def outcome(page: Page, number: int, word: str) -> None:
    line(page, number).get_by_label(word, exact=True).check()


def test_on_a_phone_the_next_line_opens_when_one_has_its_outcome(door, order):
    page = door.enter("niko", phone=True)
    page.goto(f"{order}close/")
    expect(line(page, 0)).to_have_attribute("open", "")
    expect(line(page, 1)).not_to_have_attribute("open", "")
    expect(line(page, 0).locator("[data-outcome]")).to_have_text("open")

    outcome(page, 0, "Deferred")
    expect(line(page, 0).locator("[data-outcome]")).to_have_text("deferred")
    expect(line(page, 0).get_by_label("Why it is deferred")).to_be_visible()
    expect(line(page, 1)).to_have_attribute("open", "")

    # What is wrong in a folded line is unfolded, and named where the person looks first.
    line(page, 0).locator("summary").first.click()
    expect(line(page, 0)).not_to_have_attribute("open", "")
    page.get_by_role("button", name="Close the order").click()
    expect(page.get_by_role("alert")).to_contain_text("Not saved yet")
    expect(page).to_have_title(re.compile("^Error: "))
    expect(line(page, 0)).to_have_attribute("open", "")
    expect(line(page, 0).locator("summary").first).to_contain_text("see below")
    expect(line(page, 1).locator("summary").first).to_contain_text("see below")


def test_what_was_typed_into_a_folded_line_is_unfolded_when_it_comes_back(door, order):
    page = door.enter("niko", phone=True)
    page.goto(f"{order}close/")
    line(page, 1).locator("summary").first.click()
    line(page, 1).get_by_text("Deferred, referred, or a note").click()
    line(page, 1).get_by_label("Note").fill("Glass is ordered")
    outcome(page, 1, "Done")
    page.reload()
    expect(line(page, 1).get_by_label("Note")).to_be_visible()
    expect(line(page, 1).get_by_label("Note")).to_have_value("Glass is ordered")
    expect(line(page, 1).locator("[data-outcome]")).to_have_text("done")


def test_on_a_desk_every_line_is_open_and_checks_stand_beside_the_outcome(door, order):
    page = door.enter("niko")
    page.goto(f"{order}close/")
    for number in (0, 1):
        expect(line(page, number)).to_have_attribute("open", "")
    brakes = page.locator("[data-line]", has=page.get_by_role("heading", name=re.compile("brake")))
    checks, end = brakes.locator(".line-checks").bounding_box(), brakes.locator(".line-end").bounding_box()
    assert checks["x"] + checks["width"] <= end["x"]
    assert abs(checks["y"] - end["y"]) < THUMB


def test_the_act_stays_at_the_thumb_and_buttons_are_large_enough(door, order):
    page = door.enter("niko", phone=True)
    page.goto(f"{order}close/")
    act = page.get_by_role("button", name="Close the order")
    expect(act).to_be_in_viewport()
    brakes = page.locator("[data-line]", has=page.get_by_role("heading", name=re.compile("brake")))
    if brakes.get_attribute("open") is None:
        brakes.locator("summary").first.click()
    mark(page, "Parking brake holds", "as found", "passes")
    expect(act).to_be_in_viewport()
    for label in brakes.locator("fieldset.across label:visible").all():
        box = label.bounding_box()
        assert box["height"] >= THUMB, label.inner_text()
        assert box["width"] >= THUMB, label.inner_text()
    page.get_by_role("button", name="Save for later").click()
    done(page, "is saved")


def test_without_scripts_every_line_can_be_opened_and_sent(door, order):
    page = door.enter("niko", phone=True, scripts=False)
    page.goto(f"{order}close/")
    line(page, 1).locator("summary").first.click()
    outcome(page, 1, "Done")
    page.get_by_role("button", name="Save for later").click()
    done(page, "is saved")
