"""The columns of a table as they look from its first rows: their headings, and what their cells can be."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import cached_property, lru_cache

from fleet.core.number_reader import COMMA, POINT
from fleet.imports.cell_days import (
    DAY_FIRST,
    MONTH_FIRST,
    YEAR_FIRST,
    Days,
    NoDay,
    NoYear,
    is_serial,
    read_moment,
)
from fleet.imports.cell_values import Wrong, read_number
from fleet.imports.fleet import Fleet
from fleet.imports.headings import kinds, look_alike, normal
from fleet.imports.table import Cell, FileRow, as_text

FULL, NO_YEAR, NO_DAY = "day", "no year", "no day"
CACHED = 30_000  # cells; a file is looked at more than once while its layout and columns are told


@dataclass
class Column:
    """One column: its place from 0, its heading as it stands, and its filled cells."""

    place: int
    name: str
    cells: list[Cell] = field(default_factory=list)

    @cached_property
    def head(self) -> str:
        """The heading without what only parts its words."""
        return normal(self.name)

    @property
    def kinds(self) -> frozenset[str]:
        """What the heading may say."""
        return kinds(self.head)

    @property
    def alike(self) -> str:
        """What figure the heading says it holds instead of the meter's."""
        return look_alike(self.head)

    def share(self, test: Callable[[Cell], bool]) -> float:
        """The share of its filled cells of which something holds."""
        return sum(map(test, self.cells)) / len(self.cells) if self.cells else 0.0

    def known(self, fleet: Fleet) -> float:
        """The share of its cells that name a machine."""
        return self.share(lambda cell: fleet.find(as_text(cell)) is not None)

    @cached_property
    def days(self) -> float:
        """The share of its cells that are days; mere figures only where the heading says so."""
        told = "taken_at" in self.kinds
        return self.share(lambda cell: _is_some_day(cell, told=told))

    @cached_property
    def numbers(self) -> float:
        """The share of its cells that are figures of hours."""
        return self.share(is_number)


def columns(rows: Sequence[FileRow], *, heading: bool) -> list[Column]:
    """The columns of these rows, the heading first where there is one."""
    width = max((len(row.cells) for row in rows), default=0)
    found = []
    for place in range(width):
        cells = [row.cells[place] if place < len(row.cells) else None for row in rows]
        name = as_text(cells[0]) if heading and cells else ""
        found.append(Column(place, name, [cell for cell in cells[heading:] if cell not in (None, "")]))
    return found


@lru_cache(maxsize=CACHED, typed=True)
def day_kind(cell: Cell) -> str:
    """Whether a cell is a day, one that names no year, or a month or a year; '' where it is none of these."""
    for order in (DAY_FIRST, MONTH_FIRST, YEAR_FIRST):
        try:
            read_moment(cell, None, Days(order), UTC)
        except NoYear:
            return NO_YEAR
        except NoDay:
            return NO_DAY
        except Wrong:
            continue
        return FULL
    return ""


@lru_cache(maxsize=CACHED, typed=True)
def is_number(cell: Cell) -> bool:
    """Whether a cell is a figure of hours by one decimal mark or the other."""
    for mark in (POINT, COMMA):
        try:
            read_number(cell, mark)
        except Wrong:
            continue
        return True
    return False


def is_day(cell: Cell) -> bool:
    """Whether a cell is a whole day, not merely a number that could be one."""
    return isinstance(cell, date | datetime) or (day_kind(cell) == FULL and not _plain(cell))


def _is_some_day(cell: Cell, *, told: bool) -> bool:
    kind = day_kind(cell)
    if told or not kind:
        return bool(kind)
    return not _plain(cell) if kind == FULL else not is_number(cell)


def _plain(cell: Cell) -> bool:
    return is_serial(cell) or (
        isinstance(cell, str) and cell.replace(".", "", 1).replace(",", "", 1).isdigit()
    )
