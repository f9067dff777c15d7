"""One browser and one served demonstration for all walks; a door through which people come in."""

import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, Response, expect

from fixtures.demo.people import PASSWORD
from tests.browser.chromium import DESK, EXECUTABLE, PHONE, chromium
from tests.browser.inside import inside
from tests.browser.phone import Phone
from tests.browser.served import demonstration
from tests.browser.stickers import given_out, meter, sent, shot, tables  # noqa: F401 (fixtures)

PATIENCE = 30_000  # milliseconds: the machine that tests may be busy with other things
expect.set_options(timeout=PATIENCE)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium."""
    if not os.access(EXECUTABLE, os.X_OK):
        pytest.skip(f"{EXECUTABLE} is not there (on Debian: apt install chromium)")
    with chromium() as started:
        yield started


@pytest.fixture(scope="session")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the demonstration."""
    return tmp_path_factory.mktemp("demonstration")


@pytest.fixture(scope="session")
def site(browser: Browser, data: Path) -> Iterator[str]:
    """The address of a fresh demonstration, shared by all walks; what one walk does, the next one finds."""
    with demonstration(data) as address:
        inside(data, address, "from tests.browser import own_machines; own_machines.register_all()")
        yield address


Sessions = dict[str, Any]
"""The cookies of those who came in to look, by username."""


@pytest.fixture(scope="session")
def sessions() -> Sessions:
    """The sessions that walks which only look around share: one address may try so many passwords at most."""
    return {}


class Door:
    """Lets people in, each in a browser window of their own, and notes what goes wrong there."""

    def __init__(self, browser: Browser, site: str, sessions: Sessions) -> None:
        self._browser = browser
        self._sessions = sessions
        self.site = site
        self.wrong: list[str] = []

    def open(self, *, phone: bool = False, scripts: bool = True, locale: str = "en-IE") -> Page:
        """Open a window that nobody has signed in to."""
        context = self._browser.new_context(
            base_url=self.site,
            viewport=PHONE if phone else DESK,
            has_touch=phone,
            java_script_enabled=scripts,
            locale=locale,
        )
        context.set_default_timeout(PATIENCE)
        page = context.new_page()
        page.on("pageerror", lambda error: self.wrong.append(f"{page.url}: {error}"))
        page.on("response", self._note)
        page.on("console", self._hear)
        return page

    def _note(self, answer: Response) -> None:
        if answer.status >= 500:
            self.wrong.append(f"{answer.url}: {answer.status}")

    def _hear(self, said: ConsoleMessage) -> None:
        if "Content Security Policy" in said.text:
            self.wrong.append(said.text)

    def enter(self, username: str, *, phone: bool = False, scripts: bool = True) -> Page:
        """Sign in, by Enter, and arrive at Today."""
        page = self.open(phone=phone, scripts=scripts)
        page.goto("/sign-in/")
        page.get_by_label("Name or mail address").fill(username)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_label("Password").press("Enter")
        page.wait_for_url(re.compile(r"^[^?]*:\d+/$"))
        expect(page.get_by_role("heading", level=1)).to_have_text("Today")
        return page

    def look(self, username: str, *, phone: bool = False, scripts: bool = True) -> Page:
        """Come in as somebody who may have signed in before, only to look around."""
        if username not in self._sessions:
            self._sessions[username] = self.enter(username).context.cookies()
        page = self.open(phone=phone, scripts=scripts)
        page.context.add_cookies(self._sessions[username])
        page.goto("/")
        expect(page.get_by_role("heading", level=1)).to_have_text("Today")
        return page

    def close(self) -> None:
        """Close every window."""
        for context in self._browser.contexts:
            context.close()


@pytest.fixture
def door(browser: Browser, site: str, sessions: Sessions) -> Iterator[Door]:
    """The way in. At the end no page may have had an error of its script or of the server."""
    opened = Door(browser, site, sessions)
    yield opened
    opened.close()
    assert opened.wrong == []


@pytest.fixture
def phones(browser: Browser, site: str, tmp_path: Path) -> Iterator[Callable[[], Phone]]:
    """Give out phones with nothing on them."""
    given: list[Phone] = []

    def another() -> Phone:
        given.append(Phone(browser, site, tmp_path / f"phone{len(given)}"))
        return given[-1]

    yield another
    for each in given:
        each.close()
        each.take_down()


@pytest.fixture
def phone(phones: Callable[[], Phone]) -> Phone:
    """A phone with nothing on it."""
    return phones()


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    """A small photograph."""
    from PIL import Image

    path = tmp_path / "hose.jpg"
    Image.new("RGB", (640, 480), "#775533").save(path)
    return path
