"""What a browser prints of a page: all that stands on it, without buttons, with whose it is and the day."""

import re
import shutil
import subprocess

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

BUTTONS = """[...document.querySelectorAll("button, .button, select, input:not([type=hidden])")]
  .filter(each => each.checkVisibility()).map(each => each.textContent.trim())"""
HIDDEN = """[...document.querySelectorAll("main details:not(.no-print) :is(td, li, p)")]
  .filter(each => !each.checkVisibility() && !each.closest(".no-print, .actions"))
  .map(each => each.textContent.trim())"""
CLOSED = "document.querySelectorAll('main details:not([open])').length"


@pytest.fixture
def printed(tmp_path):
    """Return the words of each page that the browser prints of what it shows, on A4."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler-utils) is not installed")

    def printed(page):
        file = tmp_path / "page.pdf"
        page.pdf(path=file, format="A4", prefer_css_page_size=True)
        done = subprocess.run(["pdftotext", "-layout", str(file), "-"], capture_output=True, check=True)
        return [" ".join(each.split()) for each in done.stdout.decode().split("\f")[:-1]]

    return printed


def machine(page):
    page.goto("/machines/?category=compact-tractor&sort=tag")
    page.get_by_role("row").get_by_role("link").first.click()
    page.wait_for_url(re.compile(r"/machines/\d+/"))


@pytest.mark.parametrize(
    "find",
    [
        lambda page: page.goto("/ledger/"),
        lambda page: page.goto("/ahead/"),
        lambda page: page.goto("/ahead/?view=axis"),
        machine,
    ],
    ids=["report", "forecast", "time axis", "machine"],
)
def test_it_prints_what_is_on_screen_without_buttons(door, printed, find):
    page = door.look("orla")
    find(page)
    assert page.evaluate(BUTTONS)
    expect(page.get_by_role("main").get_by_text("Print", exact=True)).to_be_visible()
    page.emulate_media(media="print")
    assert page.evaluate(BUTTONS) == []
    assert page.evaluate(HIDDEN) == []
    found = printed(page)
    assert re.match(r"Quernfield Farm Printed (Mon|Tue|Wed|Thu|Fri|Sat|Sun) \d+ [A-Z][a-z]+ \d{4} ", found[0])
    for number, text in enumerate(found, start=1):
        assert text.endswith(f"page {number} of {len(found)}")
        assert "http" not in text


def test_the_report_on_paper_has_each_machine_once_in_each_table(door, printed):
    page = door.look("orla")
    page.goto("/ledger/")
    dearest = page.get_by_role("region", name="Machines that cost most, table").get_by_role("link")
    tag = dearest.first.inner_text()
    whole = " ".join(printed(page))
    assert whole.count("All machines") == 3
    assert len(re.findall(rf"{tag} +\d", whole)) == 3
    assert "How this is counted A task falls due when" in whole


def test_the_time_axis_of_a_whole_farm_fits_on_a_page(door, printed):
    page = door.look("orla")
    page.goto("/ahead/?view=axis")
    tags = page.locator("text.strip-label").all_text_contents()
    assert len(tags) > 15
    assert any(all(tag in text for tag in tags) for text in printed(page))


def test_what_was_folded_is_folded_again_after_printing(door):
    page = door.look("orla")
    page.goto("/ledger/")
    folded = page.evaluate(CLOSED)
    assert folded > 3
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert page.evaluate(CLOSED) == 0
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert page.evaluate(CLOSED) == folded


def test_print_of_the_report_gives_the_pdf(door):
    page = door.look("orla")
    page.goto("/ledger/")
    address = page.get_by_role("link", name="Print", exact=True).get_attribute("href")
    answer = page.request.get(address)
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.body().startswith(b"%PDF-")


def test_a_job_sheet_is_whole_on_paper_and_folded_on_screen(door, printed):
    page = door.look("orla", phone=True)
    page.goto("/orders/?state=started")
    page.get_by_role("row").get_by_role("link").first.click()
    page.wait_for_url(re.compile(r"/orders/\d+/"))
    page.goto(page.url + "sheet/")
    steps, folded = page.locator(".steps > li"), page.locator("details.chapter:not([open])")
    assert folded.count() > 0
    assert page.locator("details.chapter[open]").count() == 1
    hidden = folded.last.locator(".steps > li").first
    expect(hidden).to_be_hidden()
    cautions = page.locator("details.chapter:not([open]) .caution")
    shown = page.locator("details.chapter:not([open]) + .not-folded .caution-short:not(:has(.safety))")
    assert [each.is_visible() for each in shown.all()] == [True] * cautions.count() != []
    page.emulate_media(media="print")
    assert page.evaluate(HIDDEN) == []
    expect(hidden).to_be_visible()
    expect(shown.first).to_be_hidden()
    assert page.locator(".fill").first.is_visible()
    whole = " ".join(printed(page))
    last = steps.last.inner_text().split()[-4:]
    assert " ".join(last) in whole


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without"])
def test_an_address_leads_into_what_is_folded(door, scripts):
    """Chromium opens it itself; hourmark.js does for browsers that don't."""
    page = door.look("orla", phone=True, scripts=scripts)
    page.goto("/api/")
    page.get_by_role("navigation", name="Routes").get_by_role("link", name="Readings").click()
    expect(page.locator("#readings > .route").first).to_be_in_viewport()


@pytest.mark.parametrize(("phone", "most"), [(True, 4200), (False, 2000)], ids=["phone", "desk"])
@pytest.mark.parametrize("who", ["orla", "gwen"])
def test_the_report_is_short(door, who, phone, most):
    """5,860 px of the farm's on a phone and 5,053 px at a desk were too long to find anything."""
    page = door.look(who, phone=phone)
    page.goto("/ledger/")
    assert page.evaluate("document.documentElement.scrollHeight") < most
