"""The first sheet of an XLSX workbook that holds anything, read without ever holding it whole."""

import re
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from fleet.errors import FleetError
from fleet.files.limits import (
    LONGEST_CELL,
    MEGABYTE,
    MOST_COLUMNS,
    MOST_PACKED,
    MOST_PARTS,
    MOST_STRINGS,
    MOST_UNPACKED,
)

DOCTYPE = re.compile(rb"<!\s*(DOCTYPE|ENTITY)", re.IGNORECASE)
PROLOG = 64 * 1024  # bytes of a part in which a DOCTYPE could stand
BROKEN = "{name} can't be read as a workbook; save it anew as XLSX, or as CSV."


def first_sheet(path: Path, name: str) -> str:
    """Return the name of the first sheet with a row in it. Raises FleetError."""
    _check_parts(path, name)
    with _workbook(path, name) as book:
        for sheet in book.worksheets:
            for _, cells in _rows_of(sheet):
                if any(cell not in (None, "") for cell in cells):
                    return str(sheet.title)
    raise FleetError(f"{name} has no rows.")


def rows(path: Path, name: str, sheet: str) -> Iterator[tuple[int, list[Any]]]:
    """Yield number and cells of each row of a sheet; formulas as the values last saved. Raises FleetError."""
    with _workbook(path, name) as book:
        yield from _rows_of(book[sheet])


def _rows_of(sheet: Any) -> Iterator[tuple[int, list[Any]]]:
    sheet.reset_dimensions()  # what the file says of its size need not be true
    for number, row in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS, values_only=True), start=1):
        cells = [_plain(cell) for cell in row]
        while cells and cells[-1] is None:  # they fill every row up to the same width
            cells.pop()
        yield number, cells


def _plain(cell: Any) -> Any:
    if cell is None or isinstance(cell, int | float | datetime | date | time):
        return cell
    return str(cell).strip()[:LONGEST_CELL]


@contextmanager
def _workbook(path: Path, name: str) -> Iterator[Any]:
    """Open a workbook to read its values; whatever is wrong with it becomes one sentence."""
    book = None
    try:
        with path.open("rb") as file:
            book = load_workbook(file, read_only=True, data_only=True, keep_links=False)
            yield book
    except FleetError:
        raise
    except (
        InvalidFileException,
        zipfile.BadZipFile,
        zlib.error,
        SyntaxError,  # xml's ParseError is one
        KeyError,
        ValueError,
        TypeError,
        AttributeError,
        IndexError,
        OverflowError,
        EOFError,
        OSError,
    ) as error:
        raise FleetError(BROKEN.format(name=name)) from error
    finally:
        if book is not None:
            book.close()


def _check_parts(path: Path, name: str) -> None:
    """Refuse a workbook that would unpack to far more than it should, before any of it is unpacked.

    A ZIP says the size of each part; Python unpacks no more of a part than that.
    """
    try:
        with zipfile.ZipFile(path) as book:
            parts = book.infolist()
            if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
                raise FleetError(
                    f"{name} unpacks to more than {MOST_UNPACKED // MEGABYTE} MB; save it as CSV."
                )
            for part in parts:
                _check_part(book, part, name)
    except (
        zipfile.BadZipFile,
        zlib.error,
        NotImplementedError,
        RuntimeError,
        OSError,
        EOFError,
        ValueError,
    ) as error:
        raise FleetError(BROKEN.format(name=name)) from error


def _check_part(book: zipfile.ZipFile, part: zipfile.ZipInfo, name: str) -> None:
    if part.flag_bits & 0x1:
        raise FleetError(f"{name} is locked with a password; save it unlocked.")
    packed = part.file_size > MOST_PACKED * max(part.compress_size, 1)
    if packed and part.file_size > MEGABYTE:
        raise FleetError(f"{name} is packed far more tightly than a workbook is; save it as CSV.")
    if part.filename.lower().endswith("sharedstrings.xml") and part.file_size > MOST_STRINGS:
        raise FleetError(f"{name} holds too much text; save it as CSV.")
    if part.filename.lower().endswith((".xml", ".rels")):
        with book.open(part) as file:
            if DOCTYPE.search(file.read(PROLOG)):
                raise FleetError(f"{name} holds definitions that no workbook needs; save it anew.")
