"""Photograph the demonstration: `python -m tests.browser.screens`.

Builds the demonstration into a folder of its own, so that every picture shows it as it begins. Each page's
first screen goes into fixtures/screens/, on a phone and on a desk, light and dark; how high the whole page is
gets printed. The day they are taken is the day they show.
"""

import re
import sys
import tempfile
from collections.abc import Callable
from io import BytesIO
from itertools import product
from pathlib import Path
from typing import Literal

from PIL import Image
from playwright.sync_api import Browser, Page

from fixtures.demo.people import FARM, PASSWORD, YARD
from tests.browser.chromium import DESK, EXECUTABLE, PHONE, chromium
from tests.browser.served import ROOT, demonstration

FOLDER = ROOT / "fixtures" / "screens"
LARGEST = 200_000  # bytes of one picture
TOGETHER = 3_000_000
COLOURS = 128  # a page of paper, ink and four colours needs no more
PATIENCE = 60_000  # milliseconds
WIDTHS = {"phone": PHONE, "desk": DESK}
LOOKS: tuple[Literal["light", "dark"], ...] = ("light", "dark")
OWNER, MANAGER, TECHNICIAN, HIRE_DESK = (
    next(each.username for each in FARM.people if each.role == role)
    for role in ("owner", "manager", "technician", "counter")
)
HIRE_YARD, HIRER = (
    next(each.username for each in YARD.people if each.role == role) for role in ("manager", "counter")
)


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
            for width, look in product(WIDTHS, LOOKS):
                page = _signed_in(browser, site, username, width, look)
                find(page)
                page.wait_for_load_state()
                _photograph(page, f"{width}-{name}{'-dark' if look == 'dark' else ''}")
                if look == "light":
                    print(f"{width} {name}: {page.evaluate('document.documentElement.scrollHeight')} px high")
                page.context.close()
    sizes = [path.stat().st_size for path in FOLDER.rglob("*.webp")]
    print(f"{len(sizes)} pictures, {sum(sizes) / 1000:.0f} kB; the largest {max(sizes) / 1000:.0f} kB")
    if max(sizes) > LARGEST or sum(sizes) > TOGETHER:
        sys.stderr.write("screens: a picture is over 200 kB, or all are over 3 MB together\n")
        return 1
    return 0


def _signed_in(
    browser: Browser, site: str, username: str, width: str, look: Literal["light", "dark"]
) -> Page:
    context = browser.new_context(
        base_url=site, viewport=WIDTHS[width], locale="en-IE", reduced_motion="reduce", color_scheme=look
    )
    context.set_default_timeout(PATIENCE)
    page = context.new_page()
    page.goto("/sign-in/")
    page.get_by_label("Name or mail address").fill(username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(re.compile(r"^[^?]*:\d+/$"))
    return page


def _photograph(page: Page, name: str) -> None:
    taken = BytesIO(page.screenshot(animations="disabled", caret="hide"))
    picture = Image.open(taken).convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
    picture.convert("RGB").save(FOLDER / f"{name}.webp", lossless=True, quality=100, method=6)


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
    "today-owner": (OWNER, _at("/")),
    "today-manager": (MANAGER, _at("/")),
    "today-technician": (TECHNICIAN, _at("/")),
    "today-hire-desk": (HIRE_DESK, _at("/")),
    "today-hire-yard": (HIRE_YARD, _at("/")),
    "machines": (OWNER, _at("/machines/")),
    "machine": (OWNER, _machine),
    "gate": (HIRER, _at("/gate/")),
    "gate-back": (HIRER, _gate_back),
    "jobs": (TECHNICIAN, _at("/bench/")),
    "order": (OWNER, _order),
    "order-close": (OWNER, lambda page: _order(page, "close")),
    "order-sheet": (OWNER, lambda page: _order(page, "sheet")),
    "forecast": (OWNER, _at("/ahead/")),
    "report": (OWNER, _at("/ledger/")),
}
"""What is shown, to whom, and how to get there."""


if __name__ == "__main__":
    sys.exit(main())
