"""CSV as we write it, for spreadsheets: no cell of it is taken for a formula.

Source: OWASP, CSV Injection. A spreadsheet computes a cell that begins with = + - @, a tab or a carriage
return. An apostrophe before it keeps it text; `unguarded` takes that off again when the file comes back.
"""

import csv
from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Any

from fleet.usage.figures import COMMA, POINT

DANGEROUS = ("=", "+", "-", "@", "\t", "\r")
GUARD = "'"
UTF8 = b"\xef\xbb\xbf"  # by this mark spreadsheets know it


def guarded(cell: object) -> object:
    """Return text that no spreadsheet computes. Numbers, which are figures of ours, stay numbers."""
    return f"{GUARD}{cell}" if isinstance(cell, str) and _is_dangerous(cell) else cell


def unguarded(text: str) -> str:
    """Return the text that `guarded` was given."""
    return text[1:] if text.startswith(GUARD) and _is_dangerous(text) else text


def lines(rows: Iterable[Iterable[object]], *, end: str = "\r\n", decimal_mark: str = POINT) -> Iterator[str]:
    """Yield a line of CSV for each row (RFC 4180), every cell of text guarded.

    With a decimal comma the columns are parted by semicolons, as spreadsheets of such a country expect.
    """
    writer: Any = csv.writer(_Line(), lineterminator=end, delimiter=";" if decimal_mark == COMMA else ",")
    for row in rows:
        yield writer.writerow([_marked(guarded(cell), decimal_mark) for cell in row])


def as_file(rows: Iterable[Iterable[object]], *, decimal_mark: str) -> Iterator[bytes]:
    """Yield the same as a file that a spreadsheet opens, piece by piece."""
    yield UTF8
    for line in lines(rows, decimal_mark=decimal_mark):
        yield line.encode()


def _marked(cell: object, decimal_mark: str) -> object:
    """Return a number with its decimal mark; whatever else it is, as it was."""
    return str(cell).replace(POINT, decimal_mark) if isinstance(cell, Decimal | float) else cell


def _is_dangerous(text: str) -> bool:
    """With guards before it or not: so that taking one off is always right."""
    return text.lstrip(GUARD).startswith(DANGEROUS)


class _Line:
    """A file-like that hands back the line just written."""

    def write(self, line: str) -> str:
        return line
