"""The small parts of a workbook: which sheets it has, its texts, and which looks of cells mean a date.

ECMA-376 (Office Open XML), part 1, SpreadsheetML; both the transitional and the strict namespaces.
"""

import posixpath
import zipfile
from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format, is_timedelta_format

from fleet.core.errors import FleetError
from fleet.imports.limits import (
    LONGEST_CELL,
    MOST_SHARED,
    MOST_SHEETS,
    MOST_STRINGS,
    MOST_STYLES,
    shortened,
)
from fleet.imports.workbook_zip import BROKEN, Elements, read_whole
from fleet.usage.figures import how_many

MAIN = frozenset(
    {
        "http://schemas.openxmlformats.org/spreadsheetml/2006/main",
        "http://purl.oclc.org/ooxml/spreadsheetml/main",
    }
)
RELATIONS = frozenset({"http://schemas.openxmlformats.org/package/2006/relationships"})
ID = (
    "http://schemas.openxmlformats.org/officeDocument/2006/relationships id",
    "http://purl.oclc.org/ooxml/officeDocument/relationships id",
)
ALL = "_rels/.rels"  # where a package says which of its parts is the workbook
USUAL = "xl/workbook.xml"


@dataclass(slots=True)
class Contents:
    """What has to be known to read the sheets. sheets: (name, part). texts: the shared strings in UTF-8.

    bytes_read, rows_read, cells_read: of all sheets so far; a workbook may name one sheet a thousand times.
    """

    sheets: list[tuple[str, str]] = field(default_factory=list)
    texts: list[bytes] = field(default_factory=list)
    dates: list[bool] = field(default_factory=list)  # of each look: whether its number is a date
    lasts: list[bool] = field(default_factory=list)  # of each look: whether it is a length of time
    from_1904: bool = False
    bytes_read: int = 0
    rows_read: int = 0
    cells_read: int = 0


def contents(book: zipfile.ZipFile, name: str) -> Contents:
    """Read the small parts. Raises FleetError, and what `workbook_zip.opened` turns into one."""
    parts = set(book.namelist())
    main = next(
        (part for part, kind in _relations(book, ALL, name).values() if kind == "officeDocument"), USUAL
    )
    folder, _slash, file = main.rpartition("/")
    relations = _relations(book, f"{folder}/_rels/{file}.rels", name)
    workbook = _Workbook(name)
    read_whole(book, main, workbook)
    found = Contents(from_1904=workbook.from_1904)
    for title, key in workbook.sheets:
        part, kind = relations.get(key, ("", ""))
        if kind == "worksheet" and part in parts:
            found.sheets.append((title, part))
    for part, kind in relations.values():
        if kind == "sharedStrings" and part in parts:
            texts = _Texts(name)
            read_whole(book, part, texts)
            found.texts = texts.found
        elif kind == "styles" and part in parts:
            looks = _Looks(name)
            read_whole(book, part, looks)
            found.dates, found.lasts = looks.dates, looks.lasts
    return found


class _Relations(Elements):
    namespaces = RELATIONS

    def __init__(self, name: str, folder: str) -> None:
        super().__init__(name)
        self.found: dict[str, tuple[str, str]] = {}
        self._folder = folder

    def begin(self, element: str, attributes: dict[str, str]) -> None:
        if element == "Relationship" and attributes.get("TargetMode") != "External":
            target = posixpath.normpath(posixpath.join("/", self._folder, attributes.get("Target", "")))
            kind = attributes.get("Type", "").rpartition("/")[2]
            self.found[attributes.get("Id", "")] = (target.lstrip("/"), kind)
            if len(self.found) > 2 * MOST_SHEETS:
                raise FleetError(BROKEN.format(name=self.name))


def _relations(book: zipfile.ZipFile, part: str, name: str) -> dict[str, tuple[str, str]]:
    """Where a part's relations lead and of which kind each is, by their key."""
    if part not in book.namelist():
        return {}
    relations = _Relations(name, posixpath.dirname(posixpath.dirname(part)))
    read_whole(book, part, relations)
    return relations.found


class _Workbook(Elements):
    namespaces = MAIN

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.sheets: list[tuple[str, str]] = []
        self.from_1904 = False

    def begin(self, element: str, attributes: dict[str, str]) -> None:
        if element == "sheet":
            key = next((attributes[each] for each in ID if each in attributes), "")
            self.sheets.append((attributes.get("name", ""), key))
            if len(self.sheets) > MOST_SHEETS:
                said = _("{name} has more than {most} sheets; save the one as CSV.")
                raise FleetError(said.format(name=self.name, most=how_many(MOST_SHEETS)))
        elif element == "workbookPr":
            self.from_1904 = attributes.get("date1904") in ("1", "true")


class _Texts(Elements):
    """The strings that cells share; the reading of a word that stands beside it (`rPh`) is left out."""

    namespaces = MAIN

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.found: list[bytes] = []
        self._pieces: list[str] = []
        self._room = LONGEST_CELL
        self._bytes = 0
        self._heard = self._beside = self._more = False

    def begin(self, element: str, attributes: dict[str, str]) -> None:
        if element == "si":
            self._pieces, self._room, self._more = [], LONGEST_CELL, False
        elif element == "rPh":
            self._beside = True
        self._heard = element == "t" and not self._beside

    def text(self, text: str) -> None:
        if not self._heard:
            return
        text = text if self._pieces else text.lstrip()
        if kept := text[: self._room]:
            self._pieces.append(kept)
        self._more |= bool(text[self._room :].strip())
        self._room -= len(kept)

    def end(self, element: str) -> None:
        self._heard = False
        if element == "rPh":
            self._beside = False
        elif element == "si":
            whole = "".join(self._pieces)
            self.found.append(shortened(f"{whole}…" if self._more else whole).encode())
            self._bytes += len(self.found[-1])
            if len(self.found) > MOST_SHARED or self._bytes > MOST_STRINGS:
                said = _("{name} holds more than {most} different texts; save it as CSV.")
                raise FleetError(said.format(name=self.name, most=how_many(MOST_SHARED)))


class _Looks(Elements):
    namespaces = MAIN

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.dates: list[bool] = []
        self.lasts: list[bool] = []
        self._formats: dict[str, tuple[bool, bool]] = {
            str(number): (is_date_format(code), is_timedelta_format(code))
            for number, code in BUILTIN_FORMATS.items()
        }
        self._in_cells = False

    def begin(self, element: str, attributes: dict[str, str]) -> None:
        if element == "numFmt":
            code = attributes.get("formatCode", "")[:255]
            self._formats[attributes.get("numFmtId", "")[:10]] = (
                bool(is_date_format(code)),
                bool(is_timedelta_format(code)),
            )
        elif element == "cellXfs":
            self._in_cells = True
        elif element == "xf" and self._in_cells:
            date, last = self._formats.get(attributes.get("numFmtId", ""), (False, False))
            self.dates.append(date)
            self.lasts.append(last)
        if len(self.dates) > MOST_STYLES or len(self._formats) > MOST_STYLES:
            said = _("{name} has more than {most} cell formats; save it as CSV.")
            raise FleetError(said.format(name=self.name, most=how_many(MOST_STYLES)))

    def end(self, element: str) -> None:
        if element == "cellXfs":
            self._in_cells = False
