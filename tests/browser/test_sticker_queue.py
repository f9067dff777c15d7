"""Hours that wait on a phone go out once, under the name of who entered them, and none is lost."""

from decimal import Decimal

import pytest
from playwright.sync_api import expect

from tests.browser.phone import sign_in
from tests.browser.stickers import OPENS, WAITS, enter, states, status

pytestmark = pytest.mark.browser


def test_who_was_signed_out_meanwhile_signs_in_and_loses_nothing(phone, meter, sent, shot):
    loader = meter()
    page = phone.open(line=True)
    sign_in(page, "niko")
    page.goto(loader.page)
    expect(status(page)).to_have_text(OPENS)
    phone.cut()
    enter(page, loader.after("0.1"))
    expect(status(page)).to_contain_text(WAITS)
    page.context.clear_cookies(name="sessionid")
    phone.join()
    expect(status(page)).to_contain_text("Sign in again to send.")
    shot(page, "signed-out")
    assert sent(loader) == []
    status(page).get_by_role("link", name="Sign in").click()
    page.get_by_label("Name or mail address").fill("niko")
    page.get_by_label("Password").fill("meadow-gate-42")
    page.get_by_label("Password").press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(loader.tag)
    states(page, "counted")
    assert sent(loader) == [(Decimal(loader.after("0.1")), "counted", "niko")]


def test_a_token_that_ended_is_renewed(phone, meter, sent):
    loader = meter()
    page = phone.open(line=True)
    sign_in(page, "niko")
    page.goto(loader.page)
    expect(status(page)).to_have_text(OPENS)
    page.context.clear_cookies(name="csrftoken")
    enter(page, loader.after("0.1"))
    states(page, "counted")
    assert sent(loader) == [(Decimal(loader.after("0.1")), "counted", "niko")]


def test_one_persons_hours_never_go_out_under_anothers_name(phone, meter, sent, shot):
    loader, tractor = meter(), meter()
    page = phone.open(line=True)
    sign_in(page, "niko")
    page.goto(loader.page)
    expect(status(page)).to_have_text(OPENS)
    phone.cut()
    enter(page, loader.after("0.1"))
    expect(status(page)).to_contain_text(WAITS)
    page.goto("about:blank")
    page.context.clear_cookies()
    phone.join()
    sign_in(page, "bea")
    page.goto(loader.page)
    expect(page.get_by_text("Also on this phone, until they sign in: 1 of Niko Faro.")).to_be_visible()
    expect(status(page)).to_have_text(OPENS)
    shot(page, "another-person")
    page.goto(tractor.page)
    enter(page, tractor.after("0.1"))
    states(page, "counted")
    assert sent(tractor) == [(Decimal(tractor.after("0.1")), "counted", "bea")]
    assert sent(loader) == []

    page.locator("details[data-menu] > summary").click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")
    assert page.evaluate("caches.keys()") == []
    sign_in(page, "niko")
    page.goto(loader.page)
    states(page, "counted")
    assert sent(loader) == [(Decimal(loader.after("0.1")), "counted", "niko")]
    assert len(sent(tractor)) == 1
