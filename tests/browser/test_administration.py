"""The operator's pages in the house's look: axe finds nothing, nothing is refused by the content policy.

How a list is sorted is taken back on drawings cut from a strip; what can be hit reaches beyond them unseen.
"""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from fixtures.demo.people import PASSWORD
from tests.browser.chromium import DESK, PHONE
from tests.browser.inside import inside
from tests.browser.test_axe import SIDEWAYS, SMALL, TOUCH

pytestmark = pytest.mark.browser

OPERATOR = f"""
from fleet.models import Machine, User
User.objects.filter(username="operator").exists() or User.objects.create_superuser(
    "operator", password="{PASSWORD}")
print(Machine._base_manager.order_by("pk").first().pk)
"""

SMALL_INSIDE = """least => [...document.querySelectorAll(
    "#content :is(a[href], button, summary, select, textarea, input:not([type=hidden], [type=radio]))")]
  .filter(each => each.checkVisibility() && !each.closest(".sortoptions, .help, p"))
  .map(each => [each, each.getBoundingClientRect()])
  .filter(([each, box]) => box.width > 0 && box.height < least - 0.5)
  .map(([each, box]) => `${each.outerHTML.slice(0, 120)} ${box.height.toFixed(0)} px`)"""


def wrong(page: Page) -> list[str]:
    """Return what is wrong with the page. axe must not put styles into it, which the policy refuses."""
    found = [
        f"{each['id']}: {each['nodes'][0]['html'][:200]}"
        for each in Axe().run(page, options={"preload": False}).response["violations"]
    ]
    if page.viewport_size == PHONE:
        found += [f"too small to hit: {each}" for each in page.evaluate(SMALL, TOUCH)]
    found += [f"too small to hit: {each}" for each in page.evaluate(SMALL_INSIDE, TOUCH)]
    if over := page.evaluate(SIDEWAYS):
        found.append(f"scrolls sideways by {over} px")
    return found


@pytest.fixture
def operator(door, site, data):
    """A machine's id, and a page that is signed in."""
    pk = inside(data, site, OPERATOR).strip()
    page = door.open()
    page.emulate_media(reduced_motion="reduce")
    page.goto("/admin/")
    expect(page).to_have_title("Sign in as an operator · Hourmark")
    bad = {}
    for size in (PHONE, DESK):
        page.set_viewport_size(size)
        bad[size["width"]] = wrong(page)
    assert not any(bad.values()), bad
    page.get_by_label("Name or mail address").fill("operator")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    expect(page).to_have_title("Administration · Hourmark")
    return pk, page


def test_first_page_list_and_form_at_both_widths_light_and_dark(operator):
    pk, page = operator
    bad = {}
    for address in (
        "/admin/",
        "/admin/fleet/machine/",
        "/admin/fleet/reading/",
        f"/admin/fleet/machine/{pk}/change/",
        "/admin/fleet/user/add/",
        "/admin/servicing/part/",
        "/admin/fleet/member/?o=1",
        "/admin/password_change/",
    ):
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
            page.goto(address)
            assert page.title().endswith(" · Hourmark")
            assert "Django" not in page.content()
            for size in (PHONE, DESK):
                page.set_viewport_size(size)
                bad[address, scheme, size["width"]] = wrong(page)
    bad = {where: found for where, found in bad.items() if found}
    assert bad == {}


def test_the_device_decides_between_light_and_dark(operator):
    _, page = operator
    paper = "getComputedStyle(document.body).backgroundColor"
    seen = []
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        page.reload()
        seen.append(page.evaluate(paper))
    assert seen == ["rgb(246, 241, 228)", "rgb(25, 22, 18)"]
    page.emulate_media(color_scheme="dark")
    page.goto("/sign-in/")
    assert page.evaluate(paper) == seen[1]


def test_the_menu_leads_back_to_the_house_and_out(operator):
    _, page = operator
    page.locator("details[data-menu] summary").click()
    expect(page.get_by_role("link", name="Hourmark's pages")).to_have_attribute("href", "/")
    page.get_by_role("button", name="Sign out").click()
    page.goto("/admin/")
    expect(page).to_have_url(re.compile(r"/admin/login/"))
