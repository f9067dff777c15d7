"""A table in a file, row by row, whatever the file is: a CSV of any kind, or the first sheet of an XLSX."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time
from itertools import islice
from pathlib import Path
from time import monotonic
from typing import Any

from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.imports import csv_table, xlsx_table
from fleet.imports.limits import (
    MEGABYTE,
    MOST_BYTES,
    MOST_COLUMNS,
    MOST_LINES,
    MOST_ROWS,
    MOST_SECONDS,
    MOST_SHEET_ROWS,
)
from fleet.usage.figures import grouped, how_many

Cell = str | int | float | datetime | date | time | None
SAMPLE = 200  # rows by which columns are guessed
START = 8192  # bytes by which a file is told
WORKBOOK = b"PK\x03\x04"
OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"


@dataclass(frozen=True, slots=True)
class FileRow:
    """One row that isn't blank; `line` is its line in the file, or its row in the sheet.

    sheet: the sheet's name where several are read. place: which of the readings that stand in one line.
    wrong: why it is no reading, where that was told before its cells were read.
    """

    line: int
    cells: list[Cell]
    sheet: str = ""
    place: int = 0
    wrong: str = ""


@dataclass(slots=True)
class Table:
    """A file that can be read as a table. `name` is what people call the file."""

    path: Path
    name: str
    kind: str  # CSV or XLSX
    look: csv_table.Look | None = None  # how a CSV is written
    sheet: str = ""
    sample: list[FileRow] = field(default_factory=list)
    titles: list[str] = field(default_factory=list)  # of a workbook's sheets

    def rows(self) -> Iterator[FileRow]:
        """Every row that isn't blank, in order, the heading included; of a workbook its first sheet.

        Raises FleetError.
        """
        found = (
            xlsx_table.rows(self.path, self.name, self.sheet)
            if self.look is None
            else csv_table.rows(self.path, self.name, self.look)
        )
        for _sheet, row in self._within_limits(("", *row) for row in found):
            yield row

    def rows_of_sheets(self) -> Iterator[tuple[str, FileRow]]:
        """The same of every sheet in turn, each row with its sheet's name; '' in a CSV. Raises FleetError."""
        if self.look is None:
            yield from self._within_limits(xlsx_table.rows_of_sheets(self.path, self.name))
        else:
            yield from (("", row) for row in self.rows())

    def _within_limits(self, found: Iterator[tuple[str, int, list[Any]]]) -> Iterator[tuple[str, FileRow]]:
        workbook = self.look is None
        most = MOST_SHEET_ROWS if workbook else MOST_ROWS
        count = 0
        timed = _timed(found, self.name, workbook=workbook)
        for looked_at, (sheet, line, cells) in enumerate(timed, start=1):
            if looked_at > MOST_LINES:
                said = _("{name} has more than {most} lines, most of them blank; leave these out.")
                raise FleetError(said.format(name=self.name, most=how_many(MOST_LINES)))
            if not any(cell not in (None, "") for cell in cells):
                continue
            count += 1
            if count > most + 1:
                said = (
                    _("{name} has more than {most} rows; send it in parts or save it as CSV.")
                    if workbook
                    else _("{name} has more than {most} rows; send it in parts.")
                )
                raise FleetError(said.format(name=self.name, most=grouped(most, 0)))
            if len(cells) > MOST_COLUMNS:
                while cells and cells[-1] in (None, ""):
                    cells.pop()
                if len(cells) > MOST_COLUMNS:
                    said = _(
                        "{name} has more than {most} columns in line {line}. Leave out those that aren't "
                        "needed."
                    )
                    raise FleetError(said.format(name=self.name, most=MOST_COLUMNS, line=how_many(line)))
            yield sheet, FileRow(line, cells)


def _timed(rows: Iterator[Any], name: str, *, workbook: bool) -> Iterator[Any]:
    """Hand rows on until reading them has taken too long; what is done with them meanwhile doesn't count."""
    spent = 0.0
    while True:
        began = monotonic()
        row = next(rows, None)
        spent += monotonic() - began
        if spent > MOST_SECONDS:
            said = (
                _("{name} takes more than {most} seconds to read; send it in parts or save it as CSV.")
                if workbook
                else _("{name} takes more than {most} seconds to read; send it in parts.")
            )
            raise FleetError(said.format(name=name, most=f"{MOST_SECONDS:.0f}"))
        if row is None:
            return
        yield row


def check_size(size: int, name: str) -> None:
    """Raise FleetError for a file of more bytes than are read."""
    if size > MOST_BYTES:
        said = _("{name} has {size} MB; files up to {most} MB are read.")
        raise FleetError(
            said.format(name=name, size=how_many(round(size / MEGABYTE)), most=MOST_BYTES // MEGABYTE)
        )


def check_start(start: bytes, name: str) -> None:
    """Raise FleetError for a file whose first START bytes are no table's."""
    if not start.strip():
        raise FleetError(_("{name} is empty.").format(name=name))
    if start.startswith(OLD_WORKBOOK):
        said = _("{name} is an old kind of workbook or has a password. Save it as XLSX without a password.")
        raise FleetError(said.format(name=name))
    if b"\0" in start and not start.startswith((WORKBOOK, *csv_table.WIDE)):
        raise FleetError(_("{name} is neither a CSV nor an XLSX file.").format(name=name))


def open_table(path: Path, name: str) -> Table:
    """Look at a file and return it as a table. Raises FleetError, in one sentence, when it can't be read."""
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            start = file.read(START)
    except OSError as error:
        said = _("{name} can't be read: {why}.").format(name=name, why=error.strerror)
        raise FleetError(said) from error
    check_size(size, name)
    check_start(start, name)
    if start.startswith(WORKBOOK):
        sheet, titles = xlsx_table.first_sheet(path, name)
        table = Table(path, name, "XLSX", sheet=sheet, titles=titles)
    else:
        table = Table(path, name, "CSV", look=csv_table.look(path, name, start))
    table.sample = list(islice(table.rows(), SAMPLE))
    if not table.sample:
        raise FleetError(_("{name} has no rows.").format(name=name))
    return table


def as_text(cell: Cell) -> str:
    """A cell as it would be written in a CSV file."""
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.isoformat(sep=" ", timespec="seconds")
    if isinstance(cell, date | time):
        return cell.isoformat()
    if isinstance(cell, float):
        return f"{cell:.6f}".rstrip("0").rstrip(".") if abs(cell) < 1e15 else repr(cell)
    return str(cell)
