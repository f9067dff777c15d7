"""Debian's Chromium, driven by Playwright."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, ViewportSize, sync_playwright

EXECUTABLE = Path("/usr/bin/chromium")
QUIET = (
    "--no-sandbox",  # CI runs as root
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PHONE: ViewportSize = {"width": 390, "height": 844}
DESK: ViewportSize = {"width": 1280, "height": 900}


@contextmanager
def chromium() -> Iterator[Browser]:
    """Start a headless browser and end it."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(EXECUTABLE), args=list(QUIET))
        try:
            yield browser
        finally:
            browser.close()
