"""CSV read row by row within limits: no line, however long, and no quotation mark left open is held whole."""

import csv
from collections.abc import Iterator
from io import StringIO
from typing import TextIO

from django.utils.translation import gettext as _

from fleet.usage.figures import how_many

SEPARATORS = "\t;,"


class Unreadable(ValueError):
    """A row that can't be read; the text completes 'the file ...'. line: where the row begins, from 1."""

    def __init__(self, line: int, reason: str) -> None:
        super().__init__(reason)
        self.line = line


def records(
    file: TextIO, *, separator: str = ",", longest: int, strict: bool = False
) -> Iterator[tuple[int, int, list[str]]]:
    """Yield of each row the lines on which it begins and ends, from 1, and its cells as they stand.

    longest: characters of a row, quoted line breaks included. Raises Unreadable.
    """
    source = _Lines(file)
    reader = csv.reader(source, delimiter=separator, strict=strict)
    while True:
        begins = reader.line_num + 1
        source.room = longest
        try:
            cells = next(reader, None)
        except _TooLong:
            raise Unreadable(begins, _row_without_end(longest, begins)) from None
        except csv.Error as error:
            if "field limit" in str(error):
                raise Unreadable(begins, _cell_without_end(csv.field_size_limit(), begins)) from None
            said = _("is not valid CSV from line {line} on: {error}")
            raise Unreadable(begins, said.format(line=how_many(begins), error=error)) from None
        if cells is None:
            return
        yield begins, reader.line_num, cells


def separator_of(text: str, among: str = SEPARATORS) -> str:
    """Return what parts the cells of a text, a tab, a semicolon or a comma: what divides most rows alike.

    Of those that divide as many rows it is the one that makes more cells; the first where none divides any.
    """
    return max(among, key=lambda separator: _divided(text, separator))


def divides(text: str, separator: str) -> int:
    """How many rows of a text a separator divides into as many cells, the usual number of them."""
    return _divided(text, separator)[0]


def first_rows(text: str, most: int = 60, longest: int = 50_000) -> str:
    """Return the first lines of a text, enough to see by what its cells are parted below a title."""
    return "\n".join(text[:longest].splitlines()[:most])


def _divided(text: str, separator: str) -> tuple[int, int]:
    """How many rows a separator divides alike, and into how many cells."""
    try:
        rows = records(StringIO(text, newline=""), separator=separator, longest=len(text))
        counts = [len(cells) for *_lines, cells in rows if cells]
    except Unreadable:
        return (0, 0)
    usual = max(set(counts), key=counts.count, default=0)
    return (counts.count(usual), usual) if usual > 1 else (0, 0)


def _row_without_end(most: int, begins: int) -> str:
    return _(
        "has a row of more than {most} characters from line {line} on; "
        "look there for a missing closing quotation mark"
    ).format(most=how_many(most), line=how_many(begins))


def _cell_without_end(most: int, begins: int) -> str:
    return _(
        "has a cell of more than {most} characters from line {line} on; "
        "look there for a missing closing quotation mark"
    ).format(most=how_many(most), line=how_many(begins))


class _TooLong(Exception):
    pass


class _Lines:
    """The lines of a file; `room` is how many characters may still come before somebody says so again."""

    def __init__(self, file: TextIO) -> None:
        self.room = 0
        self._file = file

    def __iter__(self) -> "_Lines":
        return self

    def __next__(self) -> str:
        line = self._file.readline(self.room + 1)
        if not line:
            raise StopIteration
        if len(line) > self.room:
            raise _TooLong
        self.room -= len(line)
        if "\0" in line:
            raise csv.Error(_("it holds a null byte"))
        return line
