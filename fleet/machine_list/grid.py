"""The cells of a list that was pasted or sent as a file, as text: what a person would see in them."""

from dataclasses import dataclass
from datetime import datetime, time

from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.imports.small_file import small_table
from fleet.imports.table import Cell, as_text
from fleet.machine_list.listing import LONGEST, MOST_COLUMNS, MOST_ROWS

MOST_TITLES = 20  # rows above, between and below the machines


@dataclass(frozen=True)
class Grid:
    """rows: as many cells each, without blank rows and blank columns. left: sheets that weren't read."""

    rows: list[list[str]]
    left: tuple[str, ...] = ()


def from_text(text: str) -> Grid:
    """Return the cells of a text, as copied from a spreadsheet or from a CSV file. Raises FleetError."""
    return from_bytes(text.replace("\0", "").encode("utf-8", "replace"), _("The list"))


def from_bytes(sent: bytes, name: str) -> Grid:
    """Return the cells of a CSV or XLSX file of that name. Raises FleetError."""
    large = _("{name} is larger than 1 MB, far more than {most} machines need. Is it the right one?")
    full = _("{name} holds far more than a list of machines. Copy the list alone into a new workbook.")
    said = {"too_large": large.format(name=name, most=MOST_ROWS), "too_full": full.format(name=name)}
    with small_table(sent, name, **said) as table:
        rows = []
        for row in table.rows():
            cells = [one_line(_text(cell)) for cell in row.cells]
            if any(cells):
                rows.append(cells)
            if len(rows) > MOST_ROWS + MOST_TITLES:
                raise FleetError(too_many())
    return Grid(_squared(rows, name), tuple(each for each in table.titles if each != table.sheet))


def too_many() -> str:
    """The sentence about a list that is too long."""
    return _("At most {most} machines can be added at once. Send the list in parts.").format(most=MOST_ROWS)


def one_line(text: str) -> str:
    """A cell's text in one line, no longer than is kept."""
    return " ".join(text.replace("\0", "").split())[: LONGEST + 1]


def _text(cell: Cell) -> str:
    if isinstance(cell, bool):
        return "x" if cell else ""
    if isinstance(cell, datetime) and cell.time() == time(0):
        return cell.date().isoformat()
    return as_text(cell)


def _squared(rows: list[list[str]], name: str) -> list[list[str]]:
    width = max((len(row) for row in rows), default=0)
    rows = [row + [""] * (width - len(row)) for row in rows]
    used = [at for at in range(width) if any(row[at] for row in rows)]
    if len(used) > MOST_COLUMNS:
        said = _("{name} has {columns} columns, and at most {most} are read. Leave out those not needed.")
        raise FleetError(said.format(name=name, columns=len(used), most=MOST_COLUMNS))
    if not rows:
        raise FleetError(_("{name} is empty.").format(name=name))
    return [[row[at] for at in used] for row in rows]
