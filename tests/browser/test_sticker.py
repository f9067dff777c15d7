"""Somebody scans the sticker of a machine in a shed without a line, and the hours count once all the same.

What counts is counted in the tables of the served demonstration, not taken from what a page says. With
HOURMARK_SCREENSHOTS=FOLDER each step leaves a picture there.
"""

import os
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django import forms
from playwright.sync_api import Locator, Page, expect

from fleet.web.forms.fields import HoursField
from servicing.web.phone import rules_of_hours
from tests.browser.phone import sign_in
from tests.browser.test_axe import wrong

pytestmark = pytest.mark.browser

OPENS = "Opens without a line, too."
WAITS = "sent when the line is back"
Tables = Callable[..., list[tuple]]


@dataclass(frozen=True)
class Meter:
    """A machine as its table has it. shows: what its meter showed last."""

    machine: int
    tag: str
    code: str
    shows: Decimal

    @property
    def page(self) -> str:
        """Where its sticker leads."""
        return f"/r/{self.code}"

    def after(self, hours: str) -> str:
        """What it shows so many hours later. A tenth is believed even where it was read a minute ago."""
        return str(self.shows + Decimal(hours))


@pytest.fixture
def tables(site: str, data: Path) -> Tables:
    """Ask the demonstration's database, reading only."""

    def ask(sql: str, *values: object) -> list[tuple]:
        with sqlite3.connect(f"file:{data / 'hourmark.sqlite3'}?mode=ro", uri=True, timeout=20) as tables:
            return tables.execute(sql, values).fetchall()

    return ask


@pytest.fixture(scope="module")
def given() -> set[str]:
    """The tags of the machines that a test has had."""
    return set()


@pytest.fixture
def meter(tables: Tables, given: set[str]) -> Callable[..., Meter]:
    """Give out a house's machines, each once, those first whose last reading is longest ago."""

    def next_one(house: str = "quernfield-farm") -> Meter:
        rows = tables(
            "select m.id, m.tag, m.code, (select shows from fleet_reading where machine_id = m.id"
            " and state = 'counted' order by taken_at desc, id desc limit 1) from fleet_machine m"
            " join fleet_organisation o on o.id = m.organisation_id join fleet_metersegment s"
            " on s.machine_id = m.id and s.ended_at is null where o.slug = ?"
            " and m.retired_on is null and m.tag not like 'Z-%' and m.tag not like 'W%'"
            " order by m.hours_at, m.tag",
            house,
        )
        pk, tag, code, shows = next(row for row in rows if row[1] not in given)
        given.add(tag)
        return Meter(pk, tag, code, Decimal(str(shows)))

    return next_one


@pytest.fixture
def sent(tables: Tables) -> Callable[[Meter], list[tuple]]:
    """What phones sent of a machine: figures with their states and who took them, in the order of time."""

    def find(of: Meter) -> list[tuple]:
        rows = tables(
            "select r.shows, r.state, u.username from fleet_reading r"
            " join fleet_member p on p.id = r.taken_by_id join fleet_user u on u.id = p.user_id"
            " where r.machine_id = ? and r.source = 'phone'"
            " order by r.taken_at, r.id",
            of.machine,
        )
        return [(Decimal(str(shows)), state, who) for shows, state, who in rows]

    return find


@pytest.fixture
def shot(tmp_path: Path) -> Callable[[Page, str], None]:
    """Take a picture of a step."""
    folder = Path(os.environ.get("HOURMARK_SCREENSHOTS") or tmp_path)

    def take(page: Page, name: str) -> None:
        page.screenshot(path=folder / f"sticker-{name}.png", full_page=True)

    return take


def status(page: Page) -> Locator:
    return page.locator("[data-status]")


def entry(page: Page, words: str) -> Locator:
    return page.locator("[data-entries] .entry").filter(has_text=words)


def enter(page: Page, shows: str) -> None:
    page.get_by_label("What the meter shows").fill(shows)
    page.get_by_role("button", name="Enter these hours").click()


def states(page: Page, *expected: str) -> None:
    """Expect the entries of this phone to be in these states, the latest first."""
    expect(page.locator("[data-entries] .state")).to_have_text([*expected])


def test_three_readings_without_a_line_count_once(phone, meter, sent, shot, photo):
    first, second, third = meter(), meter(), meter()
    page = phone.open(line=True)
    page.goto(first.page)
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")
    page.get_by_label("Username").fill("niko")
    page.get_by_label("Password").fill("meadow-gate-42")
    page.get_by_label("Password").press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(first.tag)
    expect(status(page)).to_have_text(OPENS)
    assert wrong(page, Axe()) == []
    shot(page, "1-opened")

    phone.cut()
    expect(status(page)).to_contain_text("No line. Go on")
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
    page.get_by_label("Code on the sticker, or tag").fill(third.tag.lower())
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


def test_what_was_held_and_what_was_refused_is_shown_with_the_reason(phone, meter, sent, shot):
    digger = meter()
    page = phone.open(line=True)
    sign_in(page, "ines")
    page.goto(digger.page)
    expect(status(page)).to_have_text(OPENS)
    phone.cut()
    slipped = digger.after("0.2").replace(".", "")
    page.get_by_label("What the meter shows").fill(slipped)
    expect(page.locator("[data-doubt]")).to_contain_text("more than before, and less time has passed")
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
    expect(entry(page, "Sticker")).to_contain_text("it may have been renewed")
    expect(entry(page, digger.tag)).to_contain_text("did a digit slip?")
    assert wrong(page, Axe()) == []
    shot(page, "held-and-refused")
    assert sent(digger) == [(Decimal(slipped), "held", "ines")]
    entry(page, "Sticker").get_by_role("button", name="Drop it").click()
    states(page, "held")
    entry(page, digger.tag).get_by_role("link", name="Look at it").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(digger.tag)
    expect(page.get_by_role("button", name="Did you mean")).to_be_visible()


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
    page.get_by_label("Username").fill("niko")
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
    """Background Sync: the browser wakes the service worker when the line is back."""
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
    for _ in range(60):
        if sent(tractor):
            break
        page.wait_for_timeout(500)
    assert sent(tractor) == [(Decimal(tractor.after("0.1")), "counted", "niko")]
    page.goto(tractor.page)
    states(page, "counted")


def test_a_sticker_that_is_not_of_this_house_takes_no_hours(door):
    page = door.enter("tomas", phone=True)
    page.goto("/r/ZZZZZZZZ")
    expect(page.get_by_text(OPENS)).to_be_visible()  # by then the scripts have done what they do
    expect(page.get_by_text("No machine here has the code or tag ZZZZZZZZ")).to_be_visible()
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
            return read.map(({ shows }) => shows ? Number(shows) : null);
        }""",
        [typed, rules_of_hours()],
    )
    assert dict(zip(typed, read, strict=True)) == {each: house(each) for each in typed}
