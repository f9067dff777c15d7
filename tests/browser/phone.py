"""A phone of one person, whose browser can be closed and whose line can be cut."""

from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Page, expect

from fixtures.demo.people import PASSWORD
from tests.browser.chromium import EXECUTABLE, PHONE, QUIET
from tests.browser.line import Line

PATIENCE = 30_000  # milliseconds


class Phone:
    """A phone of one person: its browser keeps what it has when it is closed, and the line can be cut."""

    def __init__(self, browser: Browser, site: str, folder: Path) -> None:
        self._kind, self._line, self._folder = browser.browser_type, Line(site), folder
        self._context: BrowserContext | None = None

    def open(self, *, line: bool) -> Page:
        """Open the browser, with a line or without."""
        self._context = self._kind.launch_persistent_context(
            self._folder,
            executable_path=str(EXECUTABLE),
            args=list(QUIET),
            base_url=self._line.address,
            viewport=PHONE,
            has_touch=True,
            locale="en-IE",
        )
        self._context.set_default_timeout(PATIENCE)
        if not line:
            self.cut()
        return self._context.pages[0]

    def cut(self) -> None:
        """Cut the line."""
        self._line.cut()
        assert self._context is not None
        self._context.set_offline(True)

    def join(self) -> None:
        """Join the line again; the phone notices."""
        self._line.join()
        assert self._context is not None
        self._context.set_offline(False)

    def close(self) -> None:
        """Close the browser."""
        if self._context:
            self._context.close()
            self._context = None

    def take_down(self) -> None:
        """Take the line down for good."""
        self._line.close()


def sign_in(page: Page, username: str) -> None:
    page.goto("/sign-in/")
    page.get_by_label("Name or mail address").fill(username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_label("Password").press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Today")
