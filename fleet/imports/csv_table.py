"""CSV as programs write it, in UTF-8, UTF-16 or Windows-1252.

Separated by commas, semicolons, tabs or vertical bars, or typed in columns with two blanks or more between.
"""

import codecs
import re
from collections.abc import Iterator
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import TextIO

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.core.csv_reader import SEPARATORS, Unreadable, divides, records, separator_of
from fleet.core.csv_writer import unguarded
from fleet.core.errors import FleetError
from fleet.imports.limits import LONGEST_ROW, MEGABYTE, shortened
from fleet.usage.figures import how_many

HINT = "sep="  # some spreadsheets write it into the first line, and repeat the mark for each column
WIDE = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
LOOKED_AT = 30  # lines by which the separator is found
MOST_SAID = 20  # characters of a first line that names no separator
BLANKS = "  "  # two or more
QUOTE = '"'
SAID = {
    ";": gettext_lazy("{coding}, separated by semicolons"),
    "\t": gettext_lazy("{coding}, separated by tabs"),
    ",": gettext_lazy("{coding}, separated by commas"),
    "|": gettext_lazy("{coding}, separated by vertical bars"),
    BLANKS: gettext_lazy("{coding}, separated by spaces"),
}
APART = re.compile(r" {2,}|\t")


@dataclass(frozen=True, slots=True)
class Look:
    """How a CSV file is written. whole: each row is quoted as a whole, and holds its cells inside."""

    encoding: str
    separator: str
    whole: bool = False

    def __str__(self) -> str:
        coded = {"utf-8-sig": "UTF-8", "utf-16": "UTF-16", "cp1252": "Windows-1252"}[self.encoding]
        said = SAID[self.separator].format(coding=coded)
        return _("{look}, each row quoted as a whole").format(look=said) if self.whole else said


def look(path: Path, name: str, start: bytes) -> Look:
    """Find out how a file is written; `start` are its first bytes. Raises FleetError when it is no text."""
    encoding = _encoding(path, start)
    try:
        with path.open(encoding=encoding, newline="") as file:
            lines = [file.readline(LONGEST_ROW) for _ in range(LOOKED_AT)]
    except UnicodeError as error:
        raise FleetError(_not_text(name)) from error
    text = "".join(lines)[:LONGEST_ROW]
    if hinted := _hinted(lines[0], name):
        return Look(encoding, hinted)
    if (inside := _inside(text)) and (mark := _separator(inside)) != BLANKS:
        return Look(encoding, mark, whole=True)
    return Look(encoding, _separator(text))


def rows(path: Path, name: str, look: Look) -> Iterator[tuple[int, list[str]]]:
    """Yield the line on which each row ends, and its cells, trimmed. Raises FleetError."""
    try:
        with path.open(encoding=look.encoding, newline="") as file:
            if look.separator == BLANKS:
                yield from _typed(file, name)
                return
            for ends, row in _records(file, look):
                if ends == 1 and row and row[0].strip().lower() in (HINT, HINT + look.separator):
                    continue
                yield ends, [shortened(unguarded(cell.strip())) for cell in row]
    except OSError as error:
        said = _("{name} can't be read: {why}.").format(name=name, why=error.strerror)
        raise FleetError(said) from error
    except UnicodeError as error:
        raise FleetError(_not_text(name)) from error
    except Unreadable as error:
        raise FleetError(f"{name} {error}.") from error


def _records(file: TextIO, look: Look) -> Iterator[tuple[int, list[str]]]:
    """Yield line and cells of each row; of one that is quoted as a whole those inside. Raises Unreadable."""
    outside = "," if look.whole else look.separator
    for _begins, ends, row in records(file, separator=outside, longest=LONGEST_ROW):
        if not look.whole or len(row) != 1:
            yield ends, row
            continue
        inner = records(StringIO(row[0], newline=""), separator=look.separator, longest=LONGEST_ROW)
        for _first, _last, cells in inner:
            yield ends, cells


def _inside(text: str) -> str:
    """The rows that a text quotes as a whole, as they stand inside; '' where it quotes cells, or none."""
    if not text.startswith(QUOTE):
        return ""
    try:
        rows = [row for *_lines, row in records(StringIO(text, newline=""), longest=len(text)) if row]
    except Unreadable:
        return ""
    inside = [row[0] for row in rows if len(row) == 1]
    if len(inside) < len(rows) or len(rows) < 2:
        return ""
    found = "\n".join(inside)
    return found if max(divides(found, mark) for mark in SEPARATORS + "|") > len(rows) / 2 else ""


def _typed(file: TextIO, name: str) -> Iterator[tuple[int, list[str]]]:
    """Yield the rows of a text whose columns are kept apart by blanks. Raises FleetError."""
    number = 0
    while line := file.readline(LONGEST_ROW + 1):
        number += 1
        if len(line) > LONGEST_ROW:
            said = _("{name} has a line of more than {most} characters.")
            raise FleetError(said.format(name=name, most=how_many(LONGEST_ROW)))
        yield number, [shortened(cell.strip()) for cell in APART.split(line.rstrip())]


def _separator(text: str) -> str:
    """What parts most rows alike; blanks where no mark parts half of them, and blanks do."""
    mark = separator_of(text, SEPARATORS + "|")
    lines = [line for line in text.splitlines() if line.strip()]
    by_blanks = sum(len(APART.split(line.strip())) > 1 for line in lines)
    few = divides(text, mark) < len(lines) / 2
    return BLANKS if few and by_blanks >= len(lines) / 2 and by_blanks > 1 else mark


def _hinted(first: str, name: str) -> str:
    """Return the separator that a first line names, none where it names none. Raises FleetError."""
    if not first.lower().startswith(HINT):
        return ""
    said = first[len(HINT) :].strip("\r\n ")
    marks = set(said)
    if not marks <= SAID.keys() or len(marks) > 1:
        refusal = _(
            "{name} says in its first line that its cells are separated by “{said}”. Save it separated by "
            "commas, semicolons, tabs or vertical bars."
        )
        shown = "".join(mark if mark.isprintable() else "\ufffd" for mark in said[:MOST_SAID])
        raise FleetError(refusal.format(name=name, said=shown))
    return said[:1]


def _not_text(name: str) -> str:
    return _("{name} is not readable text. Save it as CSV in UTF-8.").format(name=name)


def _encoding(path: Path, start: bytes) -> str:
    if start.startswith(WIDE):
        return "utf-16"
    decoder = codecs.getincrementaldecoder("utf-8-sig")()
    with path.open("rb") as file:
        try:
            while block := file.read(MEGABYTE):
                decoder.decode(block)
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            return "cp1252"
    return "utf-8-sig"
