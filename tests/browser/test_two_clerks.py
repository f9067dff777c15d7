"""Two clerks at one gate: the second is told who was first, and what was typed is still of use."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.browser.chromium import DESK, PHONE
from tests.browser.steps import day, done
from tests.browser.test_axe import wrong
from tests.browser.test_yard_counter import go_out

pytestmark = pytest.mark.browser


def at_both_widths(page: Page) -> list[str]:
    """What is wrong with a page at a desk and on a phone."""
    found = []
    for size in (DESK, PHONE):
        page.set_viewport_size(size)
        found += wrong(page, Axe())
    page.set_viewport_size(DESK)
    return found


def test_out_and_back_twice(door):
    first, second = door.enter("ravi"), door.enter("gwen")
    tag = go_out(first)
    path = first.url
    second.goto(path)
    first.get_by_label("Who takes it").fill("Hill Paving")
    first.get_by_label("Due back").fill(day())
    first.get_by_label(re.compile("^Note")).fill("Trailer too")
    first.get_by_role("button", name="Send it out").click()
    done(first, f"{tag} is out")

    second.get_by_label("Who takes it").fill("Mill Gardens")
    second.get_by_label("Hours on the meter").fill("123.4")
    second.get_by_role("button", name="Send it out").click()
    expect(second.get_by_role("alert")).to_contain_text("It has been out with Hill Paving since")
    expect(second.get_by_role("alert")).to_contain_text("sent out by Ravi Dene")
    typed = second.get_by_role("region", name="What you typed")
    expect(typed).to_contain_text("Mill Gardens")
    expect(second.locator("main")).to_contain_text("Trailer too")
    assert at_both_widths(second) == []
    typed.get_by_role("link", name="Enter 123.4 h as a reading").click()
    expect(second.get_by_label("What the meter shows")).to_have_value("123.4")

    back = path.replace("/out/", "/back/")
    first.goto(back)
    second.goto(back)
    expect(second.locator("main")).to_contain_text("Trailer too")
    first.get_by_label(re.compile("^Note")).fill("Muddy")
    first.get_by_role("button", name="Take it back").click()
    expect(first.get_by_role("heading", name=f"{tag} is back")).to_be_visible()
    second.get_by_label(re.compile("^What is wrong")).first.fill("Mirror cracked")
    second.get_by_label(re.compile("^Note")).fill("Left by the fence")
    second.get_by_role("button", name="Take it back").click()
    expect(second.get_by_role("alert")).to_contain_text("It was taken back by Ravi Dene")
    expect(second.get_by_label(re.compile("^What is wrong")).first).to_have_value("Mirror cracked")
    assert at_both_widths(second) == []
    second.get_by_role("button", name="Add it to the return").click()
    done(second, "Added to the return")
    second.get_by_role("link", name=f"Show {tag}").click()
    hires = second.locator("main")
    for said in ("Trailer too", "Muddy", "Left by the fence", "Mirror cracked"):
        expect(hires).to_contain_text(said)
    assert at_both_widths(second) == []
