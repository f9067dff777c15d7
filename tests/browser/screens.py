"""Photograph the demonstration for the README: `python -m tests.browser.screens`.

Builds the demonstration into a folder of its own, so that every picture shows it as it begins, and writes one
PNG a page into fixtures/screens/. The day they are taken is the day they show.
"""

import re
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page

from fixtures.demo.people import FARM, PASSWORD, YARD
from tests.browser.chromium import DESK, EXECUTABLE, PHONE, chromium
from tests.browser.served import ROOT, demonstration

FOLDER = ROOT / "fixtures" / "screens"
LARGEST = 200_000  # bytes of one picture
TOGETHER = 1_500_000
COLOURS = 128  # a page of paper, ink and four colours needs no more
PATIENCE = 60_000  # milliseconds
FARMER, HIRER = FARM.people[0].username, YARD.people[0].username


def main() -> int:
    """Take every picture; return 0, or 1 when one is too large for the repository."""
    if not EXECUTABLE.exists():
        sys.stderr.write(f"screens: {EXECUTABLE} is not there (on Debian: apt install chromium)\n")
        return 1
    FOLDER.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory(prefix="hourmark-screens-") as folder,
        demonstration(Path(folder)) as site,
        chromium() as browser,
    ):
        for name, (username, find) in PICTURES.items():
            _photograph(browser, site, name, username, find)
    sizes = {path.name: path.stat().st_size for path in sorted(FOLDER.glob("*.png"))}
    for name, size in sizes.items():
        print(f"{name}: {size / 1000:.0f} kB")
    if max(sizes.values()) > LARGEST or sum(sizes.values()) > TOGETHER:
        sys.stderr.write("screens: a picture is over 200 kB, or all are over 1.5 MB together\n")
        return 1
    return 0


def _photograph(browser: Browser, site: str, name: str, username: str, find: Callable[[Page], None]) -> None:
    context = browser.new_context(
        base_url=site,
        viewport=PHONE if name.startswith("phone") else DESK,
        locale="en-IE",
        reduced_motion="reduce",
    )
    context.set_default_timeout(PATIENCE)
    page = context.new_page()
    page.goto("/sign-in/")
    page.get_by_label("Name or mail address").fill(username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(re.compile(r"^[^?]*:\d+/$"))
    find(page)
    page.wait_for_load_state()
    path = FOLDER / f"{name}.png"
    page.screenshot(path=path, animations="disabled", caret="hide")
    Image.open(path).convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE).save(path, optimize=True)
    context.close()


def _at(address: str) -> Callable[[Page], None]:
    def find(page: Page) -> None:
        page.goto(address)

    return find


def _machine(page: Page) -> None:
    """A tractor."""
    page.goto("/machines/?category=compact-tractor&sort=tag")
    page.get_by_role("row").get_by_role("link").first.click()
    page.wait_for_url("**/machines/*/")


def _order(page: Page, *links: str) -> None:
    """The order that is being worked on, and on from there."""
    page.goto("/orders/?state=started")
    page.get_by_role("row").get_by_role("link").first.click()
    page.wait_for_url("**/orders/*/")
    for link in links:
        page.locator(f"a[href$='/{link}/']").first.click()
        page.wait_for_url(f"**/{link}/")


def _gate_back(page: Page) -> None:
    page.goto("/gate/")
    page.get_by_role("region", name="Out now").get_by_role("link", name="Take back").first.click()
    page.wait_for_url("**/back/")


PICTURES: dict[str, tuple[str, Callable[[Page], None]]] = {
    "desk-today": (FARMER, _at("/")),
    "desk-ahead": (FARMER, _at("/ahead/")),
    "desk-machine": (FARMER, _machine),
    "desk-ledger": (FARMER, _at("/ledger/")),
    "desk-order-sheet": (FARMER, lambda page: _order(page, "sheet")),
    "phone-today": (FARMER, _at("/")),
    "phone-machine": (FARMER, _machine),
    "phone-order-close": (FARMER, lambda page: _order(page, "close")),
    "phone-gate": (HIRER, _at("/gate/")),
    "phone-gate-back": (HIRER, _gate_back),
}
"""What is shown, to whom, and how to get there."""


if __name__ == "__main__":
    sys.exit(main())
