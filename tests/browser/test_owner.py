"""The owner asks: what did it cost, are we keeping up, what comes next month?"""

import csv
import re
from decimal import Decimal
from pathlib import Path

import pytest
from playwright.sync_api import expect

from fixtures.demo.people import PASSWORD
from tests.browser.inside import link_mailed_to
from tests.browser.steps import done, heading, number

pytestmark = pytest.mark.browser


def test_a_month_the_one_before_and_the_file_agrees_with_the_page(door):
    page = door.enter("orla")
    page.get_by_role("link", name="Report").click()
    expect(page.get_by_role("heading", level=1)).not_to_have_text("Today")
    shown = heading(page)
    page.locator("a[rel=prev]").click()
    expect(page.get_by_role("heading", level=1)).not_to_have_text(shown)
    page.wait_for_load_state()
    page.locator("summary", has_text="Hours and cost by machine").click()
    table = page.get_by_role("region", name=re.compile("Hours and cost by machine")).get_by_role("table")
    total = table.locator("tfoot td").all_inner_texts()
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Save as CSV").click()
    with Path(waiting.value.path()).open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    last = rows[-1]
    assert last["machine"] == "all machines"
    assert Decimal(last["cost EUR"]) == number(total[1])
    assert round(Decimal(last["hours run"]), 1) == number(total[0])
    known = [row for row in rows[:-1] if row["cost EUR"]]  # that of a machine which came later is empty
    assert sum(Decimal(row["cost EUR"]) for row in known) == Decimal(last["cost EUR"]) > 0
    assert [row["machine"] for row in known] == table.locator("tbody th").all_inner_texts()


def test_a_person_is_asked_in_by_mail_and_the_link_works_once(door, site, data):
    page = door.enter("orla")
    page.get_by_text("Menu").first.click()
    page.get_by_role("link", name="People", exact=True).click()
    page.get_by_role("link", name="Add a person").click()
    page.get_by_label("Name").fill("Wren Talla")
    page.get_by_label("Mail address").fill("wren@quernfield-farm.example")
    page.get_by_label("Hire desk: gate and readings").check()
    page.get_by_role("button", name="Add").click()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Continue").click()
    done(page, "Wren Talla will get a mail with a link at wren@quernfield-farm.example")
    expect(page.locator("li.entry", has_text="Wren Talla")).to_contain_text("invited")
    link = link_mailed_to(data, site, "wren@quernfield-farm.example")

    guest = door.open(phone=True)
    guest.goto(link)
    assert guest.url.endswith("/join/")  # the key stays neither in the address nor in the history
    guest.get_by_label("New password", exact=True).fill("three odd words")
    guest.get_by_label("New password again").fill("three odd words")
    guest.get_by_role("button", name="Save it and sign in").click()
    expect(guest.get_by_role("heading", level=1)).to_have_text("Today")

    later = door.open()
    later.goto(link)
    expect(later.get_by_role("heading", level=1)).to_have_text("This link no longer works")

    page.reload()
    person = page.locator("li.entry", has_text="Wren Talla")
    expect(person).to_contain_text("Hire desk")
    person.get_by_role("link", name="Change").click()
    page.get_by_label("May sign in").uncheck()
    page.get_by_role("button", name="Save").click()
    done(page, "is changed")
    guest.reload()
    expect(guest.get_by_role("heading", level=1)).not_to_have_text("Today")
