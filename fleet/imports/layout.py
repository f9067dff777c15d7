"""How a table lies in its file, and the ordinary rows that it holds: one reading a row, each thing a column.

A layout says all that is needed to read the file the same way again, whatever machines there are by then: a
worker that dies is followed by one that goes on at the same row. `find_layout` tells it.
"""

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.imports.columns import day_kind, is_number
from fleet.imports.headings import MACHINE, is_total, kinds, normal
from fleet.imports.limits import MOST_ROWS, MOST_SHEET_ROWS
from fleet.imports.table import Cell, FileRow, Table, as_text
from fleet.usage.figures import how_many

LOOKED_AT = 40  # rows of a sheet in which its headings are looked for
LONGEST_SECTION = 80  # characters; more is a note


@dataclass(frozen=True, slots=True)
class Layout:
    """How a table lies in its file. Columns count from 0, as they stand in the file.

    names: its headings as they stand, in line `line`; () where it has none. skip: rows that aren't blank
    above them, or above the first row. sections: rows with one cell name the machine of those below.
    machine, day: told above the table, for all of it. sheets: every sheet is read. titles: a sheet's name is
    the machine's. groups: columns that hold a reading each; what stands over a group (`labels`) is its
    machine or its day (`across`).
    """

    names: tuple[str, ...] = ()
    line: int = 1
    skip: int = 0
    width: int = 0
    sections: bool = False
    machine: str = ""
    day: str = ""
    sheets: bool = False
    titles: bool = False
    groups: tuple[tuple[int, ...], ...] = ()
    labels: tuple[str, ...] = ()
    across: str = ""

    @classmethod
    def kept(cls, values: dict[str, Any]) -> "Layout":
        """Return the layout that was kept as JSON."""
        groups = tuple(tuple(group) for group in values["groups"])
        return cls(
            **values | {"groups": groups, "names": tuple(values["names"]), "labels": tuple(values["labels"])}
        )

    def to_keep(self) -> dict[str, Any]:
        """Return the layout as JSON can hold it."""
        return asdict(self)

    @property
    def is_plain(self) -> bool:
        """Whether every row is one reading, below headings in the first row if there are any."""
        return self == Layout(names=self.names, line=self.line, width=self.width)

    @property
    def keys(self) -> list[int]:
        """The columns that every reading of a line shares."""
        grouped = {place for group in self.groups for place in group}
        return [place for place in range(self.width) if place not in grouped]

    @property
    def names_machine(self) -> bool:
        """Whether the machine stands somewhere else than in a column."""
        return self.sections or self.titles or bool(self.machine)

    def places(self) -> dict[str, int]:
        """The columns, of the ordinary rows, that hold what stood somewhere else, by what they hold."""
        at = len(self.keys) + max(map(len, self.groups)) if self.groups else self.width
        found = {}
        for role, there in (
            (self.across, bool(self.labels)),
            (MACHINE, self.names_machine),
            ("taken_at", bool(self.day)),
        ):
            if there and role:
                found[role] = at
                at += 1
        return found

    def heading(self) -> FileRow:
        """The headings of the ordinary rows."""
        names: list[Cell] = [*self.names, *[""] * (self.width - len(self.names))]
        if self.groups:
            first = list(self.groups[0])
            widest = max(map(len, self.groups))
            values = [names[place] for place in first] if not self.labels or len(first) > 1 else [_("Hours")]
            names = [names[place] for place in self.keys] + values + [""] * (widest - len(first))
        said = {MACHINE: _("Machine"), "taken_at": _("Day")}
        return FileRow(self.line, [*names, *(said[role] for role in self.places())])


def ordinary(table: Table, layout: Layout) -> Iterator[FileRow]:
    """The ordinary rows of a table, its headings first where it has any. Raises FleetError."""
    if layout.names:
        yield layout.heading()
    most = MOST_SHEET_ROWS if table.look is None else MOST_ROWS
    for count, row in enumerate(_unfolded(table, layout), start=1):
        if count > most:
            said = _("{name} holds more than {most} readings; send it in parts.")
            raise FleetError(said.format(name=table.name, most=how_many(most)))
        yield row


def _unfolded(table: Table, layout: Layout) -> Iterator[FileRow]:
    rows = table.rows_of_sheets() if layout.sheets else (("", row) for row in table.rows())
    head = [normal(name) for name in layout.names]
    sheet: _Sheet | None = None
    for title, row in rows:
        if sheet is None or sheet.title != title:
            if sheet is not None:
                yield from sheet.end()
            sheet = _Sheet(title, layout, head)
        yield from sheet.read(row)
    if sheet is not None:
        yield from sheet.end()


class _Sheet:
    """Reads the rows of one sheet, or of a file that has none."""

    def __init__(self, title: str, layout: Layout, head: list[str]) -> None:
        self.title = title
        self._layout, self._head = layout, head
        self._above: list[FileRow] | None = []  # None once the table has begun
        self._machine = title if layout.titles else layout.machine
        self._seen = 0

    def read(self, row: FileRow) -> Iterator[FileRow]:
        if self._above is not None:
            yield from self._begin(row)
        else:
            yield from self._row(row)

    def end(self) -> Iterator[FileRow]:
        """What is left of a sheet in which no table began: rows that are none of it."""
        for row in self._above or ():
            yield self._refused(row)

    def _begin(self, row: FileRow) -> Iterator[FileRow]:
        layout = self._layout
        self._seen += 1
        if not layout.sheets:
            if self._seen > layout.skip + bool(layout.names):
                self._above = None
                yield from self._row(row)
            elif self._seen <= layout.skip:
                self._section(row)
            else:
                self._above = None
            return
        if not layout.names:
            self._above = None
            yield from self._row(row)
        elif self._is_heading(row):
            self._above = None
        elif self._above is not None:
            self._section(row)
            self._above.append(row)
            if len(self._above) > LOOKED_AT:
                yield from self.end()
                self._above = []
                self._seen = LOOKED_AT

    def _row(self, row: FileRow) -> Iterator[FileRow]:
        layout = self._layout
        if (self._head and self._is_heading(row)) or (layout.sections and self._section(row)):
            return
        cells = [*row.cells, *[None] * (layout.width - len(row.cells))]
        if not layout.groups:
            yield FileRow(row.line, cells[: layout.width] + self._told(), self.title)
            return
        keys = [cells[place] for place in layout.keys]
        widest = max(map(len, layout.groups))
        found = False
        for number, group in enumerate(layout.groups, start=1):
            values = [cells[place] for place in group]
            if all(value in (None, "") for value in values):
                continue
            found = True
            label = [layout.labels[number - 1]] if layout.labels else []
            blanks: list[Cell] = [None] * (widest - len(values))
            yield FileRow(row.line, [*keys, *values, *blanks, *label, *self._told()], self.title, number)
        if not found:
            yield FileRow(
                row.line, [*keys, *[None] * (widest + bool(layout.labels)), *self._told()], self.title
            )

    def _told(self) -> list[Cell]:
        """What stands somewhere else than in the row."""
        layout = self._layout
        told: list[Cell] = [self._machine] if layout.names_machine else []
        return [*told, layout.day] if layout.day else told

    def _is_heading(self, row: FileRow) -> bool:
        return normal_cells(row, len(self._head)) == self._head

    def _section(self, row: FileRow) -> bool:
        """Whether a row alone names the machine of what follows; it is remembered."""
        if not self._layout.sections:
            return False
        name = section(row)
        if name:
            self._machine = name
        return bool(name)

    def _refused(self, row: FileRow) -> FileRow:
        cells = [*row.cells, *[None] * (self._layout.width - len(row.cells))]
        said = _("Sheet “{sheet}” has no such headings, and isn't read.").format(sheet=self.title)
        return FileRow(row.line, cells, self.title, 0, said)


def normal_cells(row: FileRow, width: int) -> list[str]:
    """The cells of a row as headings are compared."""
    cells = [normal(as_text(cell)) for cell in row.cells]
    while cells and not cells[-1]:
        cells.pop()
    return cells + [""] * (width - len(cells))


def section(row: FileRow) -> str:
    """What a row names that holds no reading: "Machine: T-04", "T-04, Brava B 48"; '' for another row."""
    filled = [as_text(cell).strip() for cell in row.cells if cell not in (None, "")]
    if not 1 <= len(filled) <= 2 or is_total(filled[0]):
        return ""
    if len(filled) == 2:
        before, after = filled
        if before.endswith(":") or MACHINE in kinds(normal(before)):
            return after
        return "" if any(is_number(cell) or day_kind(cell) for cell in filled) else before
    name = filled[0]
    before, colon, after = name.partition(":")
    if colon and after.strip():
        name = after.strip()
    return name if len(name) <= LONGEST_SECTION and name[0] not in "*#(!" else ""
