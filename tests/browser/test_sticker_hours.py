"""Somebody scans the sticker of a machine and enters hours: what is taken, what is held, what is refused."""

from decimal import Decimal

import pytest
from axe_playwright_python.sync_playwright import Axe
from django import forms
from playwright.sync_api import expect

from fleet.web.forms.fields import HoursField
from servicing.web.phone import rules_of_hours
from tests.browser.phone import sign_in
from tests.browser.stickers import OPENS, enter, entry, states, status
from tests.browser.test_axe import wrong

pytestmark = pytest.mark.browser


def test_what_was_held_and_what_was_refused_is_shown_with_the_reason(phone, meter, sent, shot):
    digger = meter()
    page = phone.open(line=True)
    sign_in(page, "ines")
    page.goto(digger.page)
    expect(status(page)).to_have_text(OPENS)
    phone.cut()
    slipped = digger.after("0.2").replace(".", "")
    page.get_by_label("What the meter shows").fill(slipped)
    expect(page.locator("[data-doubt]")).to_contain_text("more than before, but less time has passed")
    page.get_by_role("button", name="Enter these hours").click()
    expect(entry(page, digger.tag)).to_contain_text("Read ")
    page.get_by_label("What the meter shows").fill("1,204")
    page.get_by_role("button", name="Enter these hours").click()
    expect(page.get_by_label("What the meter shows")).to_be_focused()
    expect(page.get_by_text("without commas between thousands")).to_be_visible()
    page.goto("/r/0000-0000")  # of a machine that isn't this organisation's
    expect(page.get_by_role("heading", level=1)).to_have_text("Sticker 0000-0000")
    enter(page, "55")
    states(page, "waiting", "waiting")

    phone.join()
    states(page, "refused", "held")
    expect(entry(page, "Sticker")).to_contain_text("the sticker may be out of date")
    expect(entry(page, digger.tag)).to_contain_text("did a digit slip?")
    assert wrong(page, Axe()) == []
    shot(page, "held-and-refused")
    assert sent(digger) == [(Decimal(slipped), "held", "ines")]
    entry(page, "Sticker").get_by_role("button", name="Discard it").click()
    states(page, "held")
    entry(page, digger.tag).get_by_role("link", name="Look at it").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(digger.tag)
    expect(page.get_by_role("button", name="Did you mean")).to_be_visible()


def test_a_sticker_that_is_not_of_this_house_takes_no_hours(door):
    page = door.enter("tomas", phone=True)
    page.goto("/r/ZZZZZZZZ")
    expect(page.get_by_text(OPENS)).to_be_visible()  # by then the scripts have done what they do
    expect(page.get_by_text("No machine here has the code or fleet number ZZZZZZZZ")).to_be_visible()
    expect(page.get_by_label("What the meter shows")).to_be_hidden()


def test_without_scripts_the_page_is_a_form(door, meter, sent, photo):
    mower = meter("ferrow-hire")  # the walks before have just read the farm's
    page = door.enter("ravi", phone=True, scripts=False)
    page.goto(mower.page)
    page.get_by_label("What the meter shows").fill(mower.after("0.1"))
    page.get_by_text("Photo of the meter, or a note").click()
    page.get_by_label("Photo of the meter").set_input_files(photo)
    page.get_by_role("button", name="Enter these hours").click()
    expect(page.locator(".verdict .state")).to_have_text("counted")
    expect(page.get_by_role("img", name="The meter, photographed by Ravi Dene")).to_be_visible()
    assert sent(mower) == [(Decimal(mower.after("0.1")), "counted", "ravi")]


def test_the_phone_reads_hours_as_the_house_does(door):
    typed = [
        "1204.5",
        "1204,5",
        "1,204",
        "1 204.5",
        "1\u202f204",
        " 7 ",
        "",
        "abc",
        "-3",
        "7.",
        ".5",
        "1.234",
        "0",
    ]
    typed += ["12345678", "001204.5", "1204,55", "1204,555", "+7", ".", "+", "1.2.3"]

    def house(text):
        try:
            return float(HoursField().clean(text))
        except forms.ValidationError:
            return None

    page = door.open()
    page.goto("/sign-in/")
    read = page.evaluate(
        """async ([typed, rules]) => {
            const { readHours } = await import("/static/hourmark/offline/phone/words.js");
            const read = typed.map((each) => readHours(each, rules));
            return read.map(({ meter }) => meter ? Number(meter) : null);
        }""",
        [typed, rules_of_hours()],
    )
    assert dict(zip(typed, read, strict=True)) == {each: house(each) for each in typed}
