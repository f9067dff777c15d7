"""The farm manager asks: what must be done, by whom, before which day?"""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.own_machines import TRACTORS
from tests.browser.steps import day, done, heading, machines, number, open_machine

pytestmark = pytest.mark.browser


def test_what_is_due_becomes_an_order_seen_in_the_forecast_and_among_the_jobs(door):
    page = door.enter("tomas")
    overdue = page.locator("section[aria-labelledby=overdue], section[aria-labelledby=late-at-work]")
    overdue.get_by_role("link", name="Plan an order").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("An order for")
    page.wait_for_load_state()
    tag = heading(page).removeprefix("An order for ")
    due = page.get_by_role("group", name="Due now").locator("label.choice")
    assert due.count() >= 1
    for each in due.all():
        expect(each.get_by_role("checkbox")).to_be_checked()
    title = due.first.locator("span").first.inner_text().splitlines()[0]
    page.get_by_label("Technician").select_option(label="Bea Lund")
    page.get_by_label(re.compile("^Planned for")).fill(day(1))
    page.get_by_role("button", name="Make the order").click()
    done(page, "is planned")
    order = heading(page).split(":")[0]
    expect(page.get_by_role("heading", name=title)).to_be_visible()
    expect(page.locator("dl.facts")).to_contain_text("Bea Lund")

    page.get_by_role("link", name="Forecast").click()
    page.get_by_text("60 days, every machine").click()
    page.get_by_label("Search").fill(tag)
    page.get_by_role("button", name="Show").click()
    page.wait_for_load_state()
    weeks = page.get_by_role("table").get_by_role("link")
    found = 0
    for place in range(weeks.count()):
        weeks.nth(place).click()
        page.wait_for_load_state()
        for closed in page.locator("main .entry details > summary").all():
            closed.click()
        found += page.locator("main .entry").get_by_role("link", name=order).count()
    assert found >= 1

    page.get_by_role("link", name="Jobs", exact=True).click()
    expect(page.get_by_role("link", name=f"{order}, {tag}")).to_be_visible()


def test_a_held_reading_is_discarded_with_a_reason(door):
    page = door.enter("tomas")
    page.get_by_text("Menu", exact=False).first.click()
    page.get_by_role("link", name=re.compile("^Held readings")).click()
    entries = page.locator("li.entry")
    waiting = entries.count()
    assert waiting >= 1
    entries.first.get_by_role("link", name="Decide").click()
    page.get_by_label("It is wrong: discard it").check()
    page.get_by_role("button", name="Save the decision").click()
    expect(page.get_by_role("alert")).to_contain_text("How you know")  # without a reason nothing is discarded
    expect(page.get_by_label("It is wrong: discard it")).to_be_checked()
    page.get_by_label("How you know").fill("The driver read the trip counter.")
    page.get_by_role("button", name="Save the decision").click()
    done(page, "was discarded")
    expect(page.locator("li.entry")).to_have_count(waiting - 1)


def test_a_new_meter_takes_the_old_ones_place_and_total_hours_go_on(door):
    page = door.enter("tomas")
    tag = machines(page, TRACTORS)[0]
    open_machine(page, tag)
    before = number(page.locator(".figure").first.inner_text())
    page.get_by_role("link", name="Meter replaced").click()
    form = page.locator("form.form").first
    form.get_by_label("The old meter's last figure").fill(str(before))
    form.get_by_label("The new meter's first figure").fill("0")
    form.get_by_role("button", name="Save the new meter").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(tag)
    assert number(page.locator(".figure").first.inner_text()) == before
    expect(page.locator("aside")).to_contain_text("Meter replaced")
