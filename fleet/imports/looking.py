"""A file looked over once from end to end: how it is read, what has to be asked, what would count first."""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC

from fleet.imports.cell_days import NoDay, NoYear, read_moment
from fleet.imports.cell_values import Wrong
from fleet.imports.column_mapping import guess, hear, learned
from fleet.imports.columns import is_number
from fleet.imports.find_layout import find_layout, sample_of
from fleet.imports.first_readings import Firsts
from fleet.imports.fleet import Fleet
from fleet.imports.habits import MOST_HEARD, decimals, orders
from fleet.imports.plan import ABOVE, FIRST, WITHIN, YEAR, Plan
from fleet.imports.rows import adds_up, body, is_blank
from fleet.imports.table import Cell, FileRow, Table


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
    plan = guess(sample, fleet=fleet, layout=layout, habit=habit).with_columns(chosen or {})
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
    """What the days and machines of a file leave to ask."""

    def __init__(self) -> None:
        self._found: set[str] = set()
        self._heard: set[Cell] = set()
        self._named: set[str] = set()  # what a row above named

    def hear(self, plan: Plan, row: FileRow) -> None:
        """Take a row into account."""
        if row.wrong:
            return
        if ABOVE not in self._found:
            self._hear_blanks(plan, row)
        cell = plan.cell(row, "taken_at")
        if not {YEAR, WITHIN} <= self._found and cell not in self._heard:
            if len(self._heard) < MOST_HEARD:
                self._heard.add(cell)
            self._hear_day(plan, cell)

    def found(self, firsts: Firsts) -> tuple[str, ...]:
        """What has to be asked."""
        return tuple(ask for ask in (YEAR, WITHIN, ABOVE) if ask in self._found) + (FIRST,) * firsts.any

    def _hear_day(self, plan: Plan, cell: Cell) -> None:
        with suppress(Wrong):
            try:
                read_moment(cell, None, replace(plan, year=None, within="").days, UTC)
            except NoYear:
                self._found.add(YEAR)
            except NoDay:
                self._found.add(WITHIN)

    def _hear_blanks(self, plan: Plan, row: FileRow) -> None:
        hours = plan.cell(row, "hours")
        if is_blank(hours) or not is_number(hours) or adds_up(row, plan):
            return
        blank = {role for role in ("machine", "taken_at") if is_blank(plan.cell(row, role))}
        if len(blank) == 1 and blank & self._named:
            self._found.add(ABOVE)
        self._named |= {"machine", "taken_at"} - blank
