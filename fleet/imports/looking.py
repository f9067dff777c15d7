"""The whole of a file looked over once: how it is read, what has to be asked, and what would be counted first."""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC

from fleet.imports.cell_days import NoDay, NoYear, read_moment
from fleet.imports.cell_values import Wrong
from fleet.imports.column_mapping import guess, hear, learned
from fleet.imports.find_layout import find_layout, sample_of
from fleet.imports.first_readings import Firsts
from fleet.imports.fleet import Fleet
from fleet.imports.habits import decimals, orders
from fleet.imports.plan import FIRST, WITHIN, YEAR, Plan
from fleet.imports.rows import body
from fleet.imports.table import FileRow, Table, as_text


@dataclass(frozen=True, slots=True)
class Looked:
    """What a look over a file found. sample: its first ordinary rows; firsts: see `Firsts`."""

    plan: Plan
    rows: int
    sample: list[FileRow]
    firsts: list[FileRow]


def look_over(
    table: Table, fleet: Fleet, *, habit: str = "", chosen: Mapping[str, int | None] | None = None
) -> Looked:
    """Look a file over from its first row to its last.

    habit: see `guess`. chosen: columns that a person has named, by role. Raises FleetError.
    """
    layout = find_layout(table, fleet)
    sample = sample_of(table, layout)
    plan = replace(guess(sample, fleet=fleet, layout=layout, habit=habit), **chosen or {})
    order, decimal, firsts, asks = orders(), decimals(), Firsts(), Asks()
    count = 0
    for row in body(table, plan):
        count += 1
        hear(plan, row, order, decimal)
        asks.hear(plan, row)
        firsts.hear(plan, row, fleet)
    plan = learned(plan, order, decimal, habit)
    return Looked(replace(plan, asks=asks.found(firsts)), count, sample, firsts.rows())


def asks_of(plan: Plan, rows: list[FileRow], fleet: Fleet) -> tuple[str, ...]:
    """What these rows leave to ask under a plan, besides columns, order and decimal mark."""
    asks, firsts = Asks(), Firsts()
    for row in rows:
        asks.hear(plan, row)
        firsts.hear(plan, row, fleet)
    return asks.found(firsts)


class Asks:
    """What the days of a file leave to ask."""

    def __init__(self) -> None:
        self._found: set[str] = set()
        self._heard: set[object] = set()

    def hear(self, plan: Plan, row: FileRow) -> None:
        """Take a row into account."""
        cell = plan.cell(row, "taken_at")
        if len(self._found) == 2 or row.wrong or cell in self._heard:
            return
        if len(self._heard) < 50_000:
            self._heard.add(cell)
        if not as_text(plan.cell(row, "machine")):
            return
        with suppress(Wrong):
            try:
                read_moment(cell, None, replace(plan, year=None, within="").days, UTC)
            except NoYear:
                self._found.add(YEAR)
            except NoDay:
                self._found.add(WITHIN)

    def found(self, firsts: Firsts) -> tuple[str, ...]:
        """What has to be asked."""
        return tuple(ask for ask in (YEAR, WITHIN) if ask in self._found) + (FIRST,) * firsts.any
