"""The first sheet of an XLSX workbook that holds anything, read without ever holding it whole.

Rows and cells are taken where the file says they stand, and nothing is made for those it leaves out.
"""

import math
import re
import zipfile
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

from django.utils.translation import gettext as _
from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_excel

from fleet.core.errors import FleetError
from fleet.core.moment_reader import read_iso
from fleet.core.number_reader import read_whole
from fleet.imports.limits import (
    LAST_COLUMN,
    LAST_ROW,
    LONGEST_TEXT,
    MOST_CELLS,
    MOST_COLUMNS,
    MOST_LINES,
    MOST_UNPACKED,
    shortened,
)
from fleet.imports.workbook_parts import MAIN, Contents, contents
from fleet.imports.workbook_zip import BROKEN, Elements, blocks, opened, unpacks_to_too_much
from fleet.usage.figures import how_many

PLACE = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6})", re.ASCII)
LONGEST_NUMBER = 40  # characters; the format writes 17 digits at most
NUMBER, SHARED, TEXT, INLINE, TRUTH, DAY = "n", "s", "str", "inlineStr", "b", "d"

Cells = list[Any]


def first_sheet(path: Path, name: str) -> tuple[str, list[str]]:
    """Return the name of the first sheet with a row in it, and those of all sheets. Raises FleetError."""
    with opened(path, name) as book:
        known = contents(book, name)
        for title, part in known.sheets:
            for _row, cells in _rows_of(book, part, known, name):
                if any(cell not in (None, "") for cell in cells):
                    return title, [each for each, _part in known.sheets]
    raise FleetError(_("{name} has no rows.").format(name=name))


def rows(path: Path, name: str, sheet: str) -> Iterator[tuple[int, Cells]]:
    """Yield number and cells of each row that the sheet has; formulas as the values last saved.

    Raises FleetError.
    """
    with opened(path, name) as book:
        known = contents(book, name)
        yield from _rows_of(book, dict(reversed(known.sheets))[sheet], known, name)


def rows_of_sheets(path: Path, name: str) -> Iterator[tuple[str, int, Cells]]:
    """Yield the same of every sheet in turn, with the sheet's name first. Raises FleetError."""
    with opened(path, name) as book:
        known = contents(book, name)
        for title, part in known.sheets:
            for number, cells in _rows_of(book, part, known, name):
                yield title, number, cells


def _rows_of(book: zipfile.ZipFile, part: str, known: Contents, name: str) -> Iterator[tuple[int, Cells]]:
    sheet = _Sheet(name, known)
    for block in blocks(book, part):
        known.bytes_read += len(block)
        if known.bytes_read > MOST_UNPACKED:
            raise FleetError(unpacks_to_too_much(name))
        sheet.feed(block)
        yield from sheet.found
        sheet.found.clear()
    sheet.feed(b"", last=True)
    yield from sheet.found


class _Sheet(Elements):
    """Puts the rows of a sheet together; `found` are those that ended since it was last emptied."""

    namespaces = MAIN

    def __init__(self, name: str, known: Contents) -> None:
        super().__init__(name)
        self.found: list[tuple[int, Cells]] = []
        self._known = known
        self._row = self._column = 0
        self._cells: Cells = []
        self._kind = NUMBER
        self._look = 0
        self._pieces: list[str] = []
        self._length = 0
        self._heard = self._beside = False

    def begin(self, element: str, attributes: dict[str, str]) -> None:
        if element == "c":
            self._begin_cell(attributes)
        elif element == "row":
            self._begin_row(attributes.get("r", ""))
        elif element == "rPh":
            self._beside = True
        self._heard = element == "v" or (element == "t" and not self._beside)

    def text(self, text: str) -> None:
        if self._heard:
            self._length += len(text)
            if self._length > LONGEST_TEXT:
                said = _("{name} holds a cell of more than {most} characters in row {row}; shorten it.")
                most, row = how_many(LONGEST_TEXT), how_many(self._row)
                raise FleetError(said.format(name=self.name, most=most, row=row))
            self._pieces.append(text)

    def end(self, element: str) -> None:
        self._heard = False
        if element == "c":
            self._end_cell()
        elif element == "row":
            self.found.append((self._row, self._cells))
            self._cells = []
        elif element == "rPh":
            self._beside = False

    def _begin_row(self, number: str) -> None:
        found = read_whole(number)
        row = self._row + 1 if found is None else found
        if row > LAST_ROW:
            said = _(
                "{name} has a row numbered {row}; a sheet has at most {most} rows. Save it again, or as CSV."
            )
            raise FleetError(said.format(name=self.name, row=how_many(row), most=how_many(LAST_ROW)))
        self._known.rows_read += 1
        if self._known.rows_read > MOST_LINES:
            said = _("{name} has more than {most} lines, most of them blank; leave these out.")
            raise FleetError(said.format(name=self.name, most=how_many(MOST_LINES)))
        if row <= self._row:
            raise FleetError(BROKEN.format(name=self.name))
        self._row, self._column, self._cells = row, 0, []

    def _begin_cell(self, attributes: dict[str, str]) -> None:
        self._known.cells_read += 1
        if self._known.cells_read > MOST_CELLS:
            said = _("{name} has more than {most} cells; save it as CSV.")
            raise FleetError(said.format(name=self.name, most=how_many(MOST_CELLS)))
        if place := attributes.get("r"):
            match = PLACE.fullmatch(place)
            column = _column(match[1]) if match else LAST_COLUMN + 1
            if column > LAST_COLUMN or column <= self._column:
                raise FleetError(BROKEN.format(name=self.name))
            self._column = column
        else:
            self._column += 1
        self._kind = attributes.get("t", NUMBER)
        self._look = read_whole(attributes.get("s", "")) or 0
        self._pieces, self._length = [], 0

    def _end_cell(self) -> None:
        written = "".join(self._pieces)
        value = self._value(written) if written else None
        if value in (None, ""):
            return
        if self._column > MOST_COLUMNS:
            said = _(
                "{name} has something in column {column} of row {row}; at most {most} columns are read. "
                "Leave out those that aren't needed."
            )
            column, row = how_many(self._column), how_many(self._row)
            raise FleetError(said.format(name=self.name, column=column, row=row, most=MOST_COLUMNS))
        self._cells += [None] * (self._column - 1 - len(self._cells))
        self._cells.append(value)

    def _value(self, written: str) -> Any:
        if self._kind == SHARED:
            return self._known.texts[int(written[:LONGEST_NUMBER])].decode().strip()
        if self._kind == TRUTH:
            return written == "1"
        if self._kind == NUMBER:
            return self._number(written.strip())
        text = shortened(written.strip())
        return (read_iso(text) or text) if self._kind == DAY else text

    def _number(self, written: str) -> Any:
        """A number, or the moment that it means in a cell with the look of a date; else the text itself."""
        if len(written) > LONGEST_NUMBER:
            raise FleetError(BROKEN.format(name=self.name))
        value: int | float = float(written) if re.search(r"[.eEnN]", written) else int(written)
        if not math.isfinite(value):
            return written
        if self._look < len(self._known.dates) and self._known.dates[self._look]:
            return self._moment(value, written)
        return value

    def _moment(self, value: float, written: str) -> Any:
        epoch = CALENDAR_MAC_1904 if self._known.from_1904 else CALENDAR_WINDOWS_1900
        try:
            found = from_excel(value, epoch, timedelta=self._known.lasts[self._look])
        except (OverflowError, ValueError):
            return written
        return _length(found) if isinstance(found, timedelta) else found


def _length(time: timedelta) -> str:
    """A length of time as a sheet shows it by `[h]:mm`: "1216:30", with seconds where it has some."""
    seconds = round(time.total_seconds())
    sign, seconds = "-" * (seconds < 0), abs(seconds)
    text = f"{sign}{seconds // 3600}:{seconds // 60 % 60:02}"
    return f"{text}:{seconds % 60:02}" if seconds % 60 else text


def _column(letters: str) -> int:
    """The number of a column, from 1 for A."""
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - 64
    return number
