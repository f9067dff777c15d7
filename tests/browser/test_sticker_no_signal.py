"""Somebody scans a sticker in a shed without a signal, and the hours count once all the same."""

from decimal import Decimal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.browser.phone import sign_in
from tests.browser.stickers import OPENS, WAITS, enter, entry, states, status
from tests.browser.test_axe import wrong

pytestmark = pytest.mark.browser


def test_three_readings_without_a_line_count_once(phone, meter, sent, shot, photo):
    first, second, third = meter(), meter(), meter()
    page = phone.open(line=True)
    page.goto(first.page)
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")
    page.get_by_label("Name or mail address").fill("niko")
    page.get_by_label("Password").fill("meadow-gate-42")
    page.get_by_label("Password").press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(first.tag)
    expect(status(page)).to_have_text(OPENS)
    assert wrong(page, Axe()) == []
    shot(page, "1-opened")

    phone.cut()
    expect(status(page)).to_contain_text("No signal. Carry on")
    shot(page, "2-line-cut")
    enter(page, first.after("0.1"))
    expect(status(page)).to_have_text(f"Kept on this phone: 1 entry, {WAITS}.")
    shot(page, "3-one-waits")
    # the stickers of two machines that were never opened on this phone
    page.goto(second.page)
    expect(page.get_by_role("heading", level=1)).to_have_text(second.tag)
    expect(page.locator("[data-due]")).not_to_be_empty()
    page.get_by_text("Photo of the meter, or a note").click()
    page.get_by_label("Photo of the meter").set_input_files(photo)
    page.get_by_label("Note").fill("Glass is cracked")
    enter(page, second.after("0.1"))
    expect(entry(page, second.tag)).to_contain_text("With a photo.")
    page.get_by_label("Code on the sticker, or fleet number").fill(third.tag.lower())
    page.get_by_role("button", name="Open").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(third.tag)
    enter(page, third.after("0.1"))
    expect(status(page)).to_have_text(f"Kept on this phone: 3 entries, {WAITS}.")
    states(page, "waiting", "waiting", "waiting")
    assert wrong(page, Axe()) == []
    shot(page, "4-three-wait")

    phone.close()
    page = phone.open(line=False)
    assert page.goto(first.page).from_service_worker
    assert page.evaluate("fetch('/health/web').then(() => 'a line', () => 'no line')") == "no line"
    expect(status(page)).to_have_text(f"Kept on this phone: 3 entries, {WAITS}.")
    states(page, "waiting", "waiting", "waiting")
    shot(page, "5-browser-closed-and-opened")
    assert [sent(each) for each in (first, second, third)] == [[], [], []]

    phone.join()
    states(page, "counted", "counted", "counted")
    expect(status(page)).to_have_text("Sent: 3 counted.")
    expect(page.locator("[data-last]")).to_contain_text(number_of(first.after("0.1")))
    expect(entry(page, second.tag)).to_contain_text("Photo sent.")
    shot(page, "6-line-back")
    rows = [sent(each) for each in (first, second, third)]
    assert rows == [
        [(Decimal(first.after("0.1")), "counted", "niko")],
        [(Decimal(second.after("0.1")), "counted", "niko")],
        [(Decimal(third.after("0.1")), "counted", "niko")],
    ]

    # The answers were lost, say: the phone sends all of it once more.
    send_again(page)
    page.reload()
    states(page, "counted", "counted", "counted")
    assert [sent(each) for each in (first, second, third)] == rows


def number_of(hours: str) -> str:
    """Hours as a page writes them."""
    return f"{Decimal(hours):,.1f}".replace(",", "\u202f")


def send_again(page: Page) -> None:
    """Put every entry of this phone back to where it was before the house answered, and send."""
    page.evaluate(
        """async () => {
            const kept = await import("/static/hourmark/offline/phone/kept.js");
            const { sendWaiting } = await import("/static/hourmark/offline/phone/send.js");
            const before = { state: "waiting", reading: null };
            for (const each of await kept.all()) await kept.note(each.id, before);
            await sendWaiting();
        }"""
    )


def test_two_phones_that_read_one_meter_count_once(phones, meter, sent):
    tractor = meter()
    pages = []
    for who in ("niko", "bea"):
        phone = phones()
        page = phone.open(line=True)
        sign_in(page, who)
        page.goto(tractor.page)
        expect(status(page)).to_have_text(OPENS)
        phone.cut()
        enter(page, tractor.after("0.1"))
        expect(status(page)).to_contain_text(WAITS)
        pages.append((phone, page))
    for phone, _ in pages:
        phone.join()
    for _, page in pages:
        states(page, "counted")
    assert [row[:2] for row in sent(tractor)] == [(Decimal(tractor.after("0.1")), "counted")]


def test_the_browser_sends_what_waits_though_no_page_is_open(phone, meter, sent):
    """Background Sync: the browser wakes the service worker when you have signal."""
    tractor = meter()
    page = phone.open(line=True)
    sign_in(page, "niko")
    page.goto(tractor.page)
    expect(status(page)).to_have_text(OPENS)
    phone.cut()
    enter(page, tractor.after("0.1"))
    expect(status(page)).to_contain_text(WAITS)
    page.goto("about:blank")
    phone.join()
    for _ in range(800):  # where its first try meets a busy machine, the browser tries again after 5 minutes
        if sent(tractor):
            break
        page.wait_for_timeout(500)
    assert sent(tractor) == [(Decimal(tractor.after("0.1")), "counted", "niko")]
    page.goto(tractor.page)
    states(page, "counted")
