"""A machine's sticker, scanned: the meters that walks read, and the steps that several of them take.

What counts is counted in the tables of the served demonstration, not taken from what a page says. With
HOURMARK_SCREENSHOTS=FOLDER each step leaves a picture there. The fixtures are given out by conftest.
"""

import os
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

OPENS = "Works without signal, too."
WAITS = "sent when you have signal"
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


@pytest.fixture(scope="session")
def given_out() -> set[str]:
    """The tags of the machines that a test has had."""
    return set()


@pytest.fixture
def meter(tables: Tables, given_out: set[str]) -> Callable[..., Meter]:
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
        pk, tag, code, shows = next(row for row in rows if row[1] not in given_out)
        given_out.add(tag)
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
