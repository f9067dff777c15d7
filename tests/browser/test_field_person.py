"""A person in the field says: here are the hours. With scripts, and on a phone that runs none."""

from decimal import Decimal

import pytest
from playwright.sync_api import Page, expect

from tests.browser.own_machines import METERS
from tests.browser.steps import number, open_machine

pytestmark = pytest.mark.browser


def machines(with_scripts: str, without: str) -> pytest.MarkDecorator:
    """Run a walk twice, on two machines, for a person in the field reads a meter once."""
    return pytest.mark.parametrize(
        ("scripts", "tag"), [(True, with_scripts), (False, without)], ids=["with scripts", "without scripts"]
    )


def book(page: Page, tag: str) -> tuple[Decimal, list[str]]:
    """Return a machine's hours, and its latest readings with their states."""
    open_machine(page, tag)
    rows = page.locator("aside table tbody tr")
    return number(page.locator(".figure").first.inner_text()), rows.all_inner_texts()


@machines(f"{METERS}01", f"{METERS}02")
def test_hours_are_counted_once_however_often_a_thumb_taps(door, scripts, tag):
    page = door.enter("niko", phone=True, scripts=scripts)
    before, readings = book(page, tag)
    page.locator("main").get_by_role("link", name="Enter hours").click()
    page.get_by_label("What the meter shows").fill(str(before + Decimal("0.3")))
    page.get_by_role("button", name="Send").dblclick()
    expect(page.locator(".verdict .state")).to_have_text("counted")
    after, then = book(page, tag)
    assert after == before + Decimal("0.3")
    assert then[1:] == readings[: len(then) - 1]  # one reading more, not two


@machines(f"{METERS}03", f"{METERS}04")
def test_a_slipped_digit_is_held_with_what_may_have_been_meant(door, scripts, tag):
    page = door.enter("niko", phone=True, scripts=scripts)
    before, _ = book(page, tag)
    page.locator("main").get_by_role("link", name="Enter hours").click()
    meant = before + Decimal("0.2")
    page.get_by_label("What the meter shows").fill(str(meant).replace(".", ""))
    page.get_by_label("What the meter shows").press("Enter")
    expect(page.locator(".verdict .state")).to_have_text("held")
    expect(page.get_by_text("doesn't count until")).to_be_visible()
    page.get_by_role("button", name="Did you mean").click()
    expect(page.locator(".verdict .state")).to_have_text("counted")
    assert number(page.get_by_role("heading", level=1).inner_text().split(":")[1]) == meant
    after, _ = book(page, tag)
    assert after == meant
