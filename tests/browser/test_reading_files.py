"""A manager sends files of readings: looked at, taken in, rejects mended; with scripts and without."""

import io
import os
import re
import sqlite3
import subprocess
import sys
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from axe_playwright_python.sync_playwright import Axe
from openpyxl import Workbook
from playwright.sync_api import Page, expect

from tests.browser.chromium import PHONE
from tests.browser.served import ROOT
from tests.browser.steps import number, open_machine
from tests.browser.test_axe import wrong

pytestmark = pytest.mark.browser

TAKE = """
from django_scopes import scopes_disabled
from fleet import tasks
from fleet.models import SentFile
with scopes_disabled():
    found = list(SentFile.objects.at_work().values_list("pk", "organisation_id", "state"))
for pk, organisation, state in found:
    task = tasks.read_file if state == "reading" else tasks.take_file
    task(sent_id=pk, organisation_id=organisation)
"""


def work(data: Path, environment: dict[str, str]) -> None:
    """Do in a process of its own what the queue holds: the served demonstration has no worker."""
    command = [sys.executable, "manage.py", "shell", "--no-imports", "-c", TAKE]
    subprocess.run(command, cwd=ROOT, env={**environment, "HOURMARK_DATA": str(data)}, check=True)


@pytest.fixture
def worker(data, monkeypatch):
    """Do the queue's work when called."""
    environment = {**os.environ, "HOURMARK_ENV": "demo", "DATABASE_URL": "", "REDIS_URL": ""}
    return lambda: work(data, environment)


def hours_of(page: Page, tag: str):
    open_machine(page, tag)
    return number(page.locator(".figure").first.inner_text())


def send(page: Page, worker, name: str, content: bytes) -> None:
    """Send a file, have the worker look at it, and wait until its page has come on to its columns."""
    page.goto("/readings/files/")
    page.get_by_label("File", exact=True).set_input_files(
        {"name": name, "mimeType": "text/csv", "buffer": content}
    )
    page.get_by_role("button", name="Send it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(name)
    expect(page.get_by_text("You can leave this page")).to_be_visible()
    worker()
    expect(page.get_by_text("Nothing is imported yet")).to_be_visible()  # by itself, with scripts or without


def workbook(*rows) -> bytes:
    book, file = Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(file)
    return file.getvalue()


def long_unread(data: Path) -> str:
    """The tag of the tractor on its first meter that was read longest ago: no other walk has just read it."""
    with sqlite3.connect(f"file:{data / 'hourmark.sqlite3'}?mode=ro", uri=True, timeout=20) as tables:
        ((tag,),) = tables.execute(
            "SELECT m.tag FROM fleet_machine m JOIN fleet_organisation o ON o.id = m.organisation_id"
            " JOIN fleet_metersegment s ON s.machine_id = m.id AND s.ended_at IS NULL"
            " WHERE o.slug = 'quernfield-farm' AND m.tag LIKE 'T-%' AND m.retired_on IS NULL"
            " AND m.hours_at IS NOT NULL AND s.offset = 0 ORDER BY m.hours_at LIMIT 1"
        )
    return tag


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without"])
def test_a_file_is_looked_at_taken_in_and_its_rejects_mended(door, data, worker, tmp_path, scripts):
    tag = long_unread(data)
    page = door.enter("tomas", scripts=scripts)
    before = hours_of(page, tag)
    today = f"{datetime.now(ZoneInfo('Europe/Dublin')):%Y-%m-%d %H:%M}"  # the farm's clock
    now = f"{before + 1:.1f}".replace(".", ",")
    send(
        page, worker, "round.csv", f"Machine;Day;Meter\n{tag};{today};{now}\nQ-0222;{today};{now}\n".encode()
    )
    expect(page.get_by_text("Nothing is imported yet")).to_be_visible()
    rows = page.get_by_role("row")
    expect(rows.filter(has_text=tag).first).to_contain_text("counted")
    expect(rows.filter(has_text="Q-0222")).to_contain_text("No machine here has")
    address = page.url
    assert hours_of(page, tag) == before
    page.goto(address)
    page.get_by_role("button", name="Import 2 rows").click()
    expect(page.get_by_text("0 of 2 rows done")).to_be_visible()
    worker()
    expect(page.get_by_text("1 of 2 rows counted.")).to_be_visible()  # by itself, with scripts or without
    with page.expect_download() as fetched:
        page.get_by_role("link", name="Download the rejected rows").click()
    mended = tmp_path / "mended.csv"
    fetched.value.save_as(mended)
    assert fetched.value.suggested_filename == "round.rejects.csv"
    text = mended.read_text(encoding="utf-8-sig")
    assert "No machine here has" in text
    assert hours_of(page, tag) == before + 1
    send(page, worker, "round.rejects.csv", text.replace("Q-0222", tag).encode())
    page.get_by_role("button", name="Import 1 row").click()
    expect(page.get_by_text("0 of 1 row done")).to_be_visible()
    worker()
    expect(page.locator("dl.facts")).to_contain_text(re.compile(r"Known already\s*1"))
    assert hours_of(page, tag) == before + 1


def test_a_workbook_whose_dates_are_ambiguous_is_asked_about_at_both_widths(door, worker):
    page = door.enter("tomas")
    send(
        page,
        worker,
        "list.xlsx",
        workbook(["Unit", "Date", "Hours"], ["T-02", "03/04/2020", 1], ["T-03", "05/06/2020", 2]),
    )
    expect(page.get_by_text("Say below what the file doesn't show")).to_be_visible()
    axe = Axe()
    assert wrong(page, axe) == []
    page.get_by_label("Month first").check()
    page.get_by_role("button", name="Show the first rows").click()
    expect(page.get_by_role("row").filter(has_text=re.compile("4\\sMar 2020"))).to_be_visible()
    assert wrong(page, axe) == []
    page.set_viewport_size(PHONE)
    assert wrong(page, axe) == []
    page.get_by_role("button", name="Discard the file").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Readings from files")


def test_what_is_no_table_is_told_beside_the_field(door):
    page = door.enter("tomas", phone=True)
    page.goto("/readings/files/")
    picture = {"name": "hose.png", "mimeType": "image/png", "buffer": b"\x89PNG\r\n\x1a\n\0\0"}
    page.get_by_label("File", exact=True).set_input_files(picture)
    page.get_by_role("button", name="Send it").click()
    expect(page.get_by_text("hose.png is neither a CSV nor an XLSX file.").first).to_be_visible()
    assert wrong(page, Axe()) == []
