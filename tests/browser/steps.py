"""Steps that several walks take."""

import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from playwright.sync_api import Page, expect

from tests.browser.own_machines import TRACTORS

BRAKES = "Check brake pedals and parking brake"  # a task of the compact tractor, with a safety check
NUMBER = re.compile(r"\d[\d\u202f\xa0]*(?:\.\d+)?")


def number(text: str) -> Decimal:
    """Return the first number in what a page says, written with thin spaces between the thousands."""
    found = NUMBER.search(text)
    assert found, f"no number in {text!r}"
    return Decimal(re.sub(r"[\u202f\xa0]", "", found[0]))


def day(ahead: int = 0) -> str:
    """Return today, or so many days on, as a date field takes it."""
    return (datetime.now(UTC).date() + timedelta(days=ahead)).isoformat()


def heading(page: Page) -> str:
    """Return what the page is called."""
    return page.get_by_role("heading", level=1).inner_text()


def done(page: Page, words: str) -> None:
    """Expect the page to say that this was done."""
    expect(page.get_by_role("status").filter(has_text=words)).to_be_visible()


def machines(page: Page, prefix: str) -> list[str]:
    """Return the tags of the ready machines whose tag begins so."""
    page.goto(f"/machines/?word={prefix}&sort=tag")
    rows = page.get_by_role("row").filter(has_text="ready")
    tags = [row.get_by_role("link").first.inner_text() for row in rows.all()]
    return [tag for tag in tags if tag.startswith(prefix)]


def open_machine(page: Page, tag: str) -> None:
    """Go to a machine's page by way of the list."""
    page.goto(f"/machines/?word={tag}")
    link = page.get_by_role("link", name=tag, exact=True).first
    if link.get_attribute("class") == "beside-link":
        link.click()
        expect(link).to_have_attribute("aria-current", "true")
    link.click()
    expect(page.get_by_role("heading", level=1)).to_have_text(tag)
    page.wait_for_load_state()


def plan_brakes(page: Page, technician: str) -> tuple[str, str]:
    """As a manager, order the brake check of the first tractor that has it free; return (order, tag)."""
    ready = machines(page, TRACTORS)
    for tag in ready:
        open_machine(page, tag)
        page.get_by_role("link", name="Make an order").click()
        expect(page.get_by_role("heading", level=1)).to_have_text(f"An order for {tag}")
        page.wait_for_load_state()
        box = page.locator("label.choice", has_text=BRAKES).locator("input")
        if box.count():
            break
    else:
        raise AssertionError(f"none of {ready} has its brake check free")
    for later in page.locator("details.more > summary").all():
        later.click()
    for each in page.get_by_role("checkbox").all():
        each.set_checked(False)
    box.check()
    page.get_by_label("Technician").select_option(label=technician)
    page.get_by_label(re.compile("^Planned for")).fill(day())
    page.get_by_role("button", name="Make the order").click()
    done(page, "is planned")
    return heading(page).split(":")[0], tag


def mark(page: Page, check: str, moment: str, word: str) -> None:
    """Press the word of a check, `as found` or `as left`."""
    value = page.get_by_role("group", name=re.compile(check)).get_by_role("group", name=moment)
    value.get_by_label(word, exact=True).check()


def re_test(page: Page, word: str) -> None:
    """Press what a re-test showed."""
    page.get_by_role("group", name=re.compile("^Re-test")).get_by_label(word, exact=True).check()
