"""A desk shows one machine beside the list; a phone goes to its page."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.keys import Keys

pytestmark = pytest.mark.browser


@pytest.mark.parametrize(("path", "name"), [("/machines/", "orla"), ("/gate/", "ravi")])
def test_a_desk_looks_through_the_list_without_leaving_it(door, path, name):
    page = door.look(name)
    page.goto(path)
    beside = page.locator("section.beside")
    link = page.locator("a.beside-link:visible").last
    tag = link.inner_text()
    Keys(page).enter(link)
    expect(page).to_have_url(re.compile(rf"{path}\?beside=\d+#at-\d+$"))
    expect(beside.get_by_role("heading", level=2)).to_contain_text(tag)
    chosen = page.locator(".entry-beside a").first
    expect(chosen).to_have_text(tag)
    expect(chosen).to_be_in_viewport()  # the list stays where it was looked at
    expect(beside.get_by_role("heading", level=2)).to_be_in_viewport()
    chosen.click()
    expect(page.get_by_role("heading", level=1)).to_have_text(tag)


@pytest.mark.parametrize(("path", "name"), [("/machines/", "orla"), ("/gate/", "ravi")])
def test_a_phone_goes_to_the_page(door, path, name):
    page = door.look(name, phone=True)
    page.goto(path)
    expect(page.locator("section.beside")).to_be_hidden()
    expect(page.locator("a.beside-link:visible")).to_have_count(0)
    link = page.locator("main [id^=at-] a:visible").first
    tag = link.inner_text()
    link.click()
    expect(page.get_by_role("heading", level=1)).to_have_text(tag)


def places(page):
    """How far below its top each cell of the first machine's card stands, in CSS pixels."""
    page.goto("/machines/?sort=tag")
    row = page.locator(".machines tbody tr").first
    cells = [row.locator(f"[data-cell={name}]") for name in ("state", "yard", "hours", "next")]
    return [cell.bounding_box()["y"] - row.bounding_box()["y"] for cell in cells]


def test_a_card_on_a_phone_is_laid_out_alike_in_every_language(door):
    english = door.look("orla", phone=True)
    german = door.open(phone=True, locale="de-DE")
    german.context.add_cookies(english.context.cookies())
    laid_out = places(german)
    expect(german.locator("html")).to_have_attribute("lang", "de")
    assert laid_out == pytest.approx(places(english), abs=2)
