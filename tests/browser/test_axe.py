"""Every page at both widths, light and dark: axe finds nothing, nothing scrolls sideways, a thumb hits.

On a phone none is over five screens high.

axe-core tests what a machine can of WCAG 2 A and AA and its own best practices.
"""

import json
import re
from itertools import chain
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from fixtures.demo.people import YARD
from tests.browser.chromium import PHONE
from tests.browser.conftest import Door, Sessions
from tests.browser.inside import inside
from tests.doors.addresses import DOORS, patterns
from tests.phrases import found_in

pytestmark = pytest.mark.browser

OWNER = "gwen"  # of the hire yard, who sees every page
TECHNICIAN, HIRE_DESK = (
    next(each.username for each in YARD.people if each.role == role) for role in ("technician", "counter")
)
LISTS = [
    "/nowhere/",
    "/api/",
    "/orders/?state=every",
    "/orders/?state=started",
    "/ahead/?view=axis",
    "/machines/?word=nothing-like-it",
]
KINDS = {}
"""One page of each kind is found by the links that other pages carry: the kind's address by its name."""

LOOKED_INTO = 26  # pages of each kind that are searched for links to further kinds
# files, not pages
NOT_SHOWN = {"order-sheet-pdf", "machine-stickers-pdf", "ledger-pdf", "media", "reading-file-rejects"}
for route, pattern in patterns():
    door = DOORS.get(pattern.name or "")
    if door is None or door.is_api or door.get is None or door.name in NOT_SHOWN:
        continue
    if pattern.pattern.converters:
        KINDS[door.name] = "/" + re.sub(r"<int:\w+>", r"\\d+", re.sub(r"<str:code>", "[0-9A-Z]{8}", route))
    else:
        LISTS.append("/" + route)
# What the demonstration has none of when it begins: an ask, and a program file that was refused.
UNUSUAL = """
from django_scopes import scope
from django.utils import timezone
from fleet.models import Ask, Machine, Member
from servicing.models import SentProgram
owner = Member._base_manager.select_related("organisation").get(user__username="gwen")
with scope(organisation=owner.organisation):
    machine = Machine.objects.in_service().filter(for_hire=True).first()
    ask = Ask.objects.create(organisation=owner.organisation, machine=machine, matter="send-out",
        whom="Kestrel Paving", first_on=timezone.now().date(), asked_by=owner,
        against=["Booked for Brook Lane Paving today."])
    sent = SentProgram.objects.create(organisation=owner.organisation, name="auger.yaml", written=b"",
        sent_by=owner, state="refused", faults=["tasks: none is named"])
print(ask.get_absolute_url(), sent.pk)
"""
TOUCH = 44
# What stands alone; a link inside a sentence, a table or a list of words has its line (WCAG 2.5.8, inline).
SMALL = """least => [
    ...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")
  ].filter(each => each.checkVisibility() && !each.matches("[type=checkbox], [type=radio], .skip, .unseen")
    && !each.closest("p:not(.actions), dd, td, th, li:not(.entry), caption, svg, .help, .entry-note"))
  .map(each => [each, each.getBoundingClientRect()])
  .filter(([each, box]) => box.width > 0 && box.height < least - 0.5)
  .map(([each, box]) => `${each.tagName} ${each.textContent.trim()} ${box.height.toFixed(0)} px`)"""
SMALL_CHOICE = """least => [...document.querySelectorAll("[type=checkbox], [type=radio]")]
  .filter(each => each.checkVisibility()).map(each => each.closest("label") || each)
  .filter(each => each.getBoundingClientRect().height < least - 0.5).map(each => each.textContent.trim())"""
TWICE = """[...document.querySelectorAll("[id]")].map(each => each.id)
  .filter((id, place, all) => all.indexOf(id) !== place)"""
OPENED = """document.querySelectorAll("details").forEach(each => { each.open = true })"""
HEIGHT = "document.documentElement.scrollHeight"
HIGHEST = 4200  # five screens of a phone
SIDEWAYS = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


def addresses(page: Page) -> list[str]:
    """Return the address of one page of each kind, as far as this person's pages lead to one."""
    found: dict[str, list[str]] = {name: [] for name in KINDS}
    waiting = list(LISTS)
    for address in waiting:
        links = _links(page, address)
        for name, kind in KINDS.items():
            fitting = [link for link in links if re.fullmatch(kind, link) and link not in waiting]
            fitting = fitting[: LOOKED_INTO - len(found[name])]
            found[name] += fitting
            waiting += fitting
    return [*LISTS, *(each[0] for each in found.values() if each)]


def _links(page: Page, address: str) -> list[str]:
    """Return where a page leads, read without showing it."""
    return re.findall(r'href="(/[^"]*)"', page.request.get(address).text())


def wrong(page: Page, axe: Axe) -> list[str]:
    """Return what is wrong with the page that is shown, in words."""
    found = [
        f"{each['id']}: {each['help']}: {each['nodes'][0]['html'][:200]}"
        for each in axe.run(page).response["violations"]
    ]
    found += [f"too small to hit: {each}" for each in page.evaluate(SMALL, TOUCH)]
    found += [f"too small to hit: {each}" for each in page.evaluate(SMALL_CHOICE, TOUCH)]
    found += [f"two things have the id {each}" for each in page.evaluate(TWICE)]
    found += [f"nobody would say: {each}" for each in found_in(page.locator("body").inner_text())]
    if over := page.evaluate(SIDEWAYS):
        found.append(f"scrolls sideways by {over} px")
    return found


@pytest.fixture(scope="module")
def pages(browser: Browser, site: str, data: Path, sessions: Sessions) -> list[str]:
    """One page of each kind, by its address."""
    ask, sent = inside(data, site, UNUSUAL).split()
    page = Door(browser, site, sessions).look(OWNER)
    found = [*addresses(page), ask, f"/programs/sent/{sent}/"]
    page.context.close()
    return found


def test_every_page_at_both_widths(door, pages):
    page = door.look(OWNER)
    axe, bad = Axe(), {}
    unseen = {name for name, kind in KINDS.items() if not any(re.fullmatch(kind, each) for each in pages)}
    assert sorted(unseen) == []
    desk = page.viewport_size
    for address in pages:
        page.emulate_media(color_scheme="light", reduced_motion="reduce")  # no colour half way
        page.goto(address)
        for size, place in ((desk, "at a desk"), (PHONE, "on a phone")):
            page.set_viewport_size(size)
            bad[f"{address} {place}"] = wrong(page, axe)
        page.emulate_media(color_scheme="dark")
        page.evaluate(OPENED)
        for size, place in ((PHONE, "on a phone"), (desk, "at a desk")):
            page.set_viewport_size(size)
            bad[f"{address} {place}, dark, all opened"] = wrong(page, axe)
    bad = {where: found for where, found in bad.items() if found}
    assert bad == {}, json.dumps(bad, indent=1)


@pytest.mark.parametrize("name", ["orla", "tomas", "bea", "ines", "ravi"])
def test_every_place_in_each_role_with_its_menu_open(door, name):
    page = door.look(name)
    axe, bad = Axe(), {}
    desk = page.viewport_size
    places = [each.get_attribute("href") for each in page.locator(".places a").all()]
    assert "/" in places
    for address in places:
        page.goto(address)
        page.evaluate(OPENED)
        for size, place in ((desk, "at a desk"), (PHONE, "on a phone")):
            page.set_viewport_size(size)
            bad[f"{address} {place}"] = wrong(page, axe)
    bad = {where: found for where, found in bad.items() if found}
    assert bad == {}, json.dumps(bad, indent=1)


@pytest.mark.parametrize("who", [OWNER, TECHNICIAN, HIRE_DESK])
def test_no_page_is_over_five_screens_of_a_phone(door, pages, who):
    """A page is loaded at this width: the closing page opens all its lines on a desk."""
    page = door.look(who, phone=True)
    high = {}
    for address in pages:
        answer = page.goto(address)
        assert answer.ok or answer.status in (403, 404), address
        high[address] = page.evaluate(HEIGHT)
    assert len(set(high.values())) > len(KINDS) / 2, "not the same refusal everywhere"
    too_high = {address: height for address, height in high.items() if height > HIGHEST}
    assert too_high == {}, json.dumps(too_high, indent=1)


def test_sign_in_and_a_link_that_has_ended(door):
    axe, bad = Axe(), {}
    for phone in (False, True):
        page = door.open(phone=phone)
        for address in ("/sign-in/", "/welcome/x/y/"):
            page.goto(address)
            bad[phone, address] = wrong(page, axe)
    assert list(chain.from_iterable(bad.values())) == []


def test_a_refused_form_is_read_first_and_marks_its_fields(door):
    page = door.look("tomas", phone=True)
    page.goto("/readings/new/")
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_role("alert")).to_be_focused()
    assert wrong(page, Axe()) == []
    page.get_by_role("alert").get_by_role("link").first.click()
    expect(page.get_by_label("Which machine")).to_be_in_viewport()


def test_the_keyboard_reaches_everything_and_shows_where_it_is(door):
    page = door.look("orla")
    page.keyboard.press("Tab")
    skip = page.get_by_role("link", name="Skip to the page")
    expect(skip).to_be_focused()
    expect(skip).to_be_in_viewport()
    page.keyboard.press("Enter")
    expect(page.get_by_role("main")).to_be_focused()
    for _ in range(12):
        page.keyboard.press("Tab")
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
        assert outline == "3px", page.evaluate("document.activeElement.outerHTML")
    menu = page.locator("details[data-menu]")
    menu.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(menu.get_by_role("link", name="People", exact=True)).to_be_visible()
    page.keyboard.press("Escape")
    expect(menu.locator("summary")).to_be_focused()
    expect(menu.get_by_role("link", name="People", exact=True)).to_be_hidden()
