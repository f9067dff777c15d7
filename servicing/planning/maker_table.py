"""A maker's maintenance table: tasks down, hours and years across, a mark where a task is due.

The first row holds the headings. A column may be headed `50 h first`, `every 100 h`, `100`, `1 year`,
`500 h or 6 months`, `12 months`, `daily`, `dust 50 h`, `page`, `note`; the first that is none of these names
the tasks, and a further one is refused.
A first row of headings over several columns (`Hours`, `Years`) gives the numbers below it their unit.

A mark (x, ●, •, ✓) means: due at every multiple; o (or ○): due there the first time only. A reference in
parentheses or raised, `x (1)` or `●¹`, names a footnote. They stand below the tasks: `(1) In dust at 50`.

What the marks of one row mean together is in servicing.planning.table_marks.
"""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from servicing.planning.language import gettext as _
from servicing.planning.table_headings import (
    INTERVAL,
    NOTE,
    PAGE,
    TASK,
    UNREAD,
    Column,
    read_heading,
    unit_of,
)
from servicing.planning.table_marks import Marked

REPEATED = frozenset("xX×✕✗●•■◆▪✓✔☑*+")
FIRST_ONLY = frozenset("oO0○◯◦⚪")
RAISED = str.maketrans("¹²³⁴⁵⁶⁷⁸⁹⁰", "1234567890")
REFERENCE = re.compile(
    r"[(\[]\s*([0-9a-z*†‡]{1,3}(?:\s*[,;]\s*[0-9a-z*†‡]{1,3})*)\s*[)\]]|([¹²³⁴⁵⁶⁷⁸⁹⁰†‡]+|(?<=.)\*+\d?)"
)
FOOTNOTE = re.compile(
    r"(?:[(\[]([0-9a-z*†‡]{1,3})[)\]]|note\s+(\d{1,2})\s*[:.]|([¹²³⁴⁵⁶⁷⁸⁹⁰]+|\*+\d?|[†‡])|(\d{1,2})[).:])\s*(.*)",
    re.IGNORECASE | re.DOTALL,
)
LONGEST_TITLE, LONGEST_PAGE = 160, 20
MOST_ROWS, MOST_COLUMNS, LONGEST_CELL = 250, 18, 2000


class TooLarge(ValueError):
    """A table of more rows, columns or words than a maker's table has; the text says so to a person."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A cell that can't be read. Rows and columns are counted from 1, as in the spreadsheet."""

    row: int
    column: int
    sentence: str
    title: str = ""
    heading: str = ""

    def __str__(self) -> str:
        row = _("Row {number} ({title})") if self.title else _("Row {number}")
        column = _("column {number} ({heading})") if self.heading else _("column {number}")
        return _("{row}, {column}: {sentence}").format(
            row=row.format(number=self.row, title=self.title),
            column=column.format(number=self.column, heading=self.heading),
            sentence=self.sentence,
        )


@dataclass(frozen=True, slots=True)
class GridTask:
    """A row of the table: what is done, where it is marked, the manual's page, its footnotes in words."""

    row: int
    title: str
    marks: tuple[Marked, ...]
    page: str = ""
    note: str = ""


@dataclass(slots=True)
class Grid:
    """What a table holds. `headings` are the rows read as titles of a section: row number and words."""

    tasks: list[GridTask] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    headings: list[tuple[int, str]] = field(default_factory=list)


def cells(written: str, separator: str = "\t") -> list[list[str]]:
    """Return the cells of a table pasted from a spreadsheet, or of a CSV file with `separator` between cells.

    Read here and not by fleet, of which planning knows nothing; the text is short and held already.
    Every row is made as long as the longest; rows and columns at the end without a word are left out.
    Raises TooLarge.
    """
    rows: list[list[str]] = []
    try:
        for row in csv.reader(written.lstrip("\ufeff").splitlines(keepends=True), delimiter=separator):
            if len(rows) <= MOST_ROWS or any(cell.strip() for cell in row):
                rows.append(_cells_of(row, len(rows) + 1))
    except csv.Error as error:
        refusal = _("Row {number} can't be read: {problem}.").format(number=len(rows) + 1, problem=error)
        raise TooLarge(refusal) from None
    while rows and not any(rows[-1]):
        rows.pop()
    if len(rows) > MOST_ROWS:
        refusal = _("The table has {number} rows; at most {most} rows can be read at once.")
        raise TooLarge(refusal.format(number=len(rows), most=MOST_ROWS))
    width = max((len(row) for row in rows), default=0)
    return [row + [""] * (width - len(row)) for row in rows]


def _cells_of(row: Sequence[str], number: int) -> list[str]:
    cells = [" ".join(cell.split()) for cell in row]
    while cells and not cells[-1]:
        cells.pop()
    if len(cells) > MOST_COLUMNS:
        refusal = _("Row {number} has {columns} columns; at most {most} columns can be read at once.")
        raise TooLarge(refusal.format(number=number, columns=len(cells), most=MOST_COLUMNS))
    if any(len(cell) > LONGEST_CELL for cell in cells):
        refusal = _("Row {number} has a cell of more than 2,000 characters; shorten it.")
        raise TooLarge(refusal.format(number=number))
    return cells


def read(table: Sequence[Sequence[str]]) -> Grid:
    """Return the tasks of a table of cells, and every cell that can't be read; the rest is read."""
    grid = Grid()
    body, columns = _columns(table, grid)
    kinds = {column.kind for column in columns}
    if {TASK, INTERVAL} <= kinds:
        notes, rows = _footnotes(table, body, columns)
        for number in rows:
            _row(number, table[number], columns, notes, grid)
        if not grid.tasks and not grid.faults:
            grid.faults.append(Fault(body + 1, 1, _("there is no task below the headings")))
        _titles_once(grid, columns)
    grid.faults.sort(key=lambda fault: (fault.row, fault.column))
    return grid


def _columns(table: Sequence[Sequence[str]], grid: Grid) -> tuple[int, list[Column]]:
    """Return where the body of the table begins, and its columns."""
    if not table or not any(any(row) for row in table):
        grid.faults.append(Fault(1, 1, _("the table is empty")))
        return 0, []
    start = next(number for number, row in enumerate(table) if any(row))
    over = [""] * len(table[start])
    if start + 1 < len(table) and _is_group(table[start], table[start + 1]):
        last = ""
        for number, cell in enumerate(table[start]):
            last = cell or last
            over[number] = last
        start += 1
    columns: list[Column] = []
    for number, (cell, group) in enumerate(zip(table[start], over, strict=True)):
        column = read_heading(cell, unit=unit_of(group), first="first" in group.lower())
        if column.kind == TASK and any(each.kind == TASK for each in columns):
            sentence = _(
                "“{cell}” is not an interval. Write “first 50 h”, “every 100 h”, “1 year”, “page” or “note”."
            ).format(cell=cell)
            if cell or any(row[number] for row in table[start + 1 :] if number < len(row)):
                sentence = sentence if cell else _("the heading is missing")
                grid.faults.append(Fault(start + 1, number + 1, sentence))
            column = Column(UNREAD, cell)
        columns.append(column)
    if grid.faults:
        return start + 1, columns
    if not any(column.is_interval for column in columns):
        sentence = _("no column is an interval. Add a heading like “every 100 h” or “1 year”.")
        grid.faults.append(Fault(start + 1, 1, sentence))
    if not any(column.kind == TASK for column in columns):
        sentence = _("no column has the tasks. Give it the heading “Task”.")
        grid.faults.append(Fault(start + 1, 1, sentence))
    return start + 1, columns


def _is_group(row: Sequence[str], below: Sequence[str]) -> bool:
    """Whether a row only groups the columns under it: it holds no interval, and the row below does."""
    said = [cell for cell in row if cell]
    return (
        not any(read_heading(cell).is_interval for cell in said)
        and any(unit_of(cell) for cell in said)
        and any(read_heading(cell, unit=unit_of("hours")).is_interval for cell in below)
    )


def _footnotes(
    table: Sequence[Sequence[str]], body: int, columns: Sequence[Column]
) -> tuple[dict[str, str], list[int]]:
    """Part the rows below the headings into footnotes by their reference, and the numbers of all others."""
    notes, rows = {}, []
    for number in range(body, len(table)):
        said = [cell for cell in table[number] if cell]
        found = FOOTNOTE.fullmatch(" ".join(said)) if 0 < len(said) <= 2 else None
        marked = any(cell for cell, column in zip(table[number], columns, strict=False) if column.is_interval)
        if found and found[5] and (not marked or FOOTNOTE.fullmatch(said[0] + " ")):
            key = next(group for group in found.groups()[:4] if group)
            notes[key.translate(RAISED).lower()] = found[5].strip()
        elif said:
            rows.append(number)
    return notes, rows


def _row(
    number: int, row: Sequence[str], columns: Sequence[Column], notes: dict[str, str], grid: Grid
) -> None:
    title, page, marks, said, faults = "", "", [], [], []
    asked: list[str] = []

    def fault(at: int, sentence: str) -> None:
        faults.append((at, sentence))

    for at, (cell, column) in enumerate(zip(row, columns, strict=False)):
        if column.kind == TASK:
            title, references = _title(cell, notes)
            asked += references
        elif column.kind == PAGE:
            page = cell
            if len(cell) > LONGEST_PAGE:
                fault(at, _("a page has at most {most} characters").format(most=LONGEST_PAGE))
        elif column.kind == NOTE and cell:
            references = _references(cell)
            if references and all(reference in notes for reference in references):
                asked += references
            elif cell.lower() in notes:
                asked.append(cell.lower())
            else:
                said.append(cell)
        elif column.is_interval and cell:
            mark, references = _mark(cell)
            for reference in references:
                if reference not in notes:
                    lost = _("“{cell}” refers to note {reference}, which is not below the table")
                    fault(at, lost.format(cell=cell, reference=reference))
            asked += [reference for reference in references if reference in notes]
            if mark is None:
                unread = _(
                    "“{cell}” is not a mark. Write x where it is due each time, o for the first time only."
                )
                fault(at, unread.format(cell=cell))
            else:
                marks.append(Marked(column.hours, column.months, column.first or mark, column.condition))
    if len(title) > LONGEST_TITLE:
        longest = _("a task has at most {most} characters").format(most=LONGEST_TITLE)
        fault(_first(columns, TASK), longest)
    if not title and (marks or faults):
        fault(_first(columns, TASK), _("the task has no name; write one"))
    if title and not marks and not faults and (page or said):
        fault(
            next(at for at, column in enumerate(columns) if column.is_interval),
            _("the task has no mark; write x where due"),
        )
    if title and not marks and not faults:
        grid.headings.append((number + 1, title))
        return
    grid.faults += [
        Fault(number + 1, at + 1, sentence, title, columns[at].heading) for at, sentence in sorted(faults)
    ]
    if title and marks and not faults:
        words = [notes[reference] for reference in dict.fromkeys(asked)]
        grid.tasks.append(GridTask(number + 1, title, tuple(marks), page, "\n".join([*said, *words])))


def _first(columns: Sequence[Column], kind: str) -> int:
    return next(at for at, column in enumerate(columns) if column.kind == kind)


def _titles_once(grid: Grid, columns: Sequence[Column]) -> None:
    seen: dict[str, int] = {}
    for task in grid.tasks:
        earlier = seen.setdefault(task.title.lower(), task.row)
        if earlier != task.row:
            sentence = _(
                "the same task is in row {row}; put its marks in one row or give it another name"
            ).format(row=earlier)
            grid.faults.append(Fault(task.row, _first(columns, TASK) + 1, sentence, task.title))


def _title(cell: str, notes: dict[str, str]) -> tuple[str, list[str]]:
    """The task's words without the references at their end that name a footnote of this table."""
    references: list[str] = []
    while True:
        found = next((each for each in REFERENCE.finditer(cell) if each.end() == len(cell)), None)
        if found is None or not found.start():
            return cell, references
        named = _split(found)
        if not all(reference in notes for reference in named):
            return cell, references
        references, cell = named + references, cell[: found.start()].rstrip()


def _mark(cell: str) -> tuple[bool | None, list[str]]:
    """Return whether a mark is for the first time only (None: not a mark), and the notes it refers to."""
    references = _references(cell)
    bare = REFERENCE.sub("", cell).strip()
    if bare in REPEATED or (not bare and references):
        return False, references
    if bare in FIRST_ONLY:
        return True, references
    return None, [] if bare else references


def _references(cell: str) -> list[str]:
    return [name for found in REFERENCE.finditer(cell) for name in _split(found)]


def _split(found: re.Match[str]) -> list[str]:
    if found[2]:
        raised = found[2]
        return (
            [raised.translate(RAISED)]
            if raised[0] in "*†‡" or len(raised) == 1
            else list(raised.translate(RAISED))
        )
    return [name.strip().lower() for name in re.split(r"[,;]", found[1])]
