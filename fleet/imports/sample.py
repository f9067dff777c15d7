"""The first rows of a table as they are kept: enough to choose its columns by without opening it again."""

from collections.abc import Callable, Sequence
from datetime import date, datetime, time
from typing import Any

from fleet.imports.table import Cell, FileRow

KEPT_ROWS = 30
KEPT_CHARACTERS = 200  # of a cell; more is cut off
READ: dict[str, Callable[[str], Cell]] = {
    "datetime": datetime.fromisoformat,
    "date": date.fromisoformat,
    "time": time.fromisoformat,
}


def to_keep(rows: Sequence[FileRow], most: int = KEPT_ROWS, characters: int = KEPT_CHARACTERS) -> list[Any]:
    """Return the first rows as JSON can hold them, each cell cut to so many characters."""
    return [_row(row, characters) for row in rows[:most]]


def kept(values: Sequence[Any]) -> list[FileRow]:
    """Return the rows that were kept."""
    return [FileRow(line, [_cell(cell) for cell in cells], *more) for line, cells, *more in values]


def _row(row: FileRow, characters: int) -> list[Any]:
    kept = [row.line, [_kept(cell, characters) for cell in row.cells]]
    return [*kept, row.sheet, row.place, row.wrong] if row.sheet or row.place or row.wrong else kept


def _kept(cell: Cell, characters: int) -> Any:
    if isinstance(cell, date | time):  # a datetime is a date too
        return {type(cell).__name__: cell.isoformat()}
    return cell[:characters] if isinstance(cell, str) else cell


def _cell(value: Any) -> Cell:
    if isinstance(value, dict):
        ((kind, written),) = value.items()
        return READ[kind](written)
    return value
