"""A maker's maintenance table, as printed: read into tasks, questions and what can't be read.

Tasks go down, intervals across, a mark where a task is due; or intervals stand in words in a column of their
own, or as titles over the tasks. Headings are in English, German, French, Spanish, Italian or Dutch.

A mark (x, ●, •, ✓) means: due at every multiple; o (or ○): due there the first time only. A legend says
otherwise. A reference in parentheses or raised, `x (1)` or `●¹`, names a footnote. They stand below the
tasks: `(1) In dust at 50`.

What could be read in two ways is a question; `read` takes the answers.

The work is divided. table_lines (with table_line_parts) parts tasks typed one a line into cells,
table_columns (with table_places) other pasted text. table_words and table_heading_words hold the six
languages, table_intervals reads intervals in words. table_heading_rows, table_headings, table_column_kinds
and table_layout say what stands where, table_sections which lines say the interval of those below,
table_keys what codes for intervals mean. table_signs, table_life, table_act_cells, table_cells,
table_row_words and table_conditions read the cells of a row, which table_reading puts together; table_doubts
says why a reading isn't certain, table_marks what marks mean.
"""

import csv
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from zlib import crc32

from servicing.planning import table_columns, table_life, table_lines
from servicing.planning.intervals import NORMAL
from servicing.planning.language import gettext as _
from servicing.planning.table_grid import (
    LEAVE_OUT,
    YES,
    Choice,
    Fault,
    Grid,
    GridTask,
    Offer,
    Question,
    answered,
)
from servicing.planning.table_heading_rows import TIMED
from servicing.planning.table_headings import TASK, TEXT
from servicing.planning.table_layout import Layout, lay_out
from servicing.planning.table_reading import read_row
from servicing.planning.table_row import Table
from servicing.planning.table_signs import FIRST_ONLY, references, used_in
from servicing.planning.table_specs import limits_in

__all__ = [
    "Choice",
    "Fault",
    "Grid",
    "GridTask",
    "Question",
    "TooLarge",
    "cells",
    "read",
    "stands_in_columns",
]

BULLET_AND_TAB = re.compile(r"(?m)^[ ]*\t?[ ]*([•●▪■□◦*·o–-]|\d{1,2}[.)])[ ]*\t[ \t]*")
MOST_ROWS, MOST_COLUMNS, LONGEST_CELL = 250, 18, 2000


class TooLarge(ValueError):
    """A table of more rows, columns or words than a maker's table has; the text says so to a person."""


def cells(written: str, separator: str = "\t") -> list[list[str]]:
    """Return the cells of a table pasted from a spreadsheet, or of a CSV file with `separator` between cells.

    Text without one tab, as copied from a document, is parted where its blanks stand below each other, or
    where people who type a task a line part it. A bullet with a tab behind it is a bullet.
    Read here and not by fleet, of which planning knows nothing; the text is short and held already.
    Every row is made as long as the longest; rows and columns at the end without a word are left out.
    Raises TooLarge.
    """
    rows: list[list[str]] = []
    if separator == "\t" and "\t" not in (bulleted := BULLET_AND_TAB.sub(r"\1 ", written)):
        written = bulleted
    if separator == "\t" and "\t" not in written:
        lines = written.lstrip("\ufeff").splitlines()
        if len(lines) <= 2 * MOST_ROWS and all(len(line) <= LONGEST_CELL for line in lines):
            parted = table_lines.rows_of_lines(lines) or table_columns.columns_of(lines)
            written = "\n".join("\t".join(_quoted(cell) for cell in row) for row in parted)
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


def stands_in_columns(text: str) -> bool:
    """Whether blanks part the cells of a text, or somebody typed a task a line, and no sign parts them."""
    return table_columns.stands_in_columns(text) or table_lines.stand_in_lines(text)


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if cell.startswith('"') else cell


def _cells_of(row: Sequence[str], number: int) -> list[str]:
    cells = [_one_line(cell) for cell in row]
    while cells and not cells[-1]:
        cells.pop()
    if len(cells) > MOST_COLUMNS:
        refusal = _("Row {number} has {columns} columns; at most {most} columns can be read at once.")
        raise TooLarge(refusal.format(number=number, columns=len(cells), most=MOST_COLUMNS))
    if any(len(cell) > LONGEST_CELL for cell in cells):
        refusal = _("Row {number} has a cell of more than 2,000 characters; shorten it.")
        raise TooLarge(refusal.format(number=number))
    return cells


def _one_line(cell: str) -> str:
    """A cell's lines as one; lines that each begin as a sentence does are parted by a stroke."""
    lines = [" ".join(line.split()) for line in cell.splitlines() if line.strip()]
    begins = len(lines) > 1 and all(line[:1].isupper() or line[:1] in "•–-" for line in lines)
    ends = any(line.endswith((",", "-", "–", "/", "(")) for line in lines[:-1])
    return (" | " if begins and not ends else " ").join(lines)


def read(
    table: Sequence[Sequence[str]], answers: Mapping[str, str] | None = None, *, settled: bool = False
) -> Grid:
    """Return the tasks of a table of cells, every question and every cell that can't be read.

    answers: what a person said, the code of a choice by the place of its question. An open question's row is
    read by its first choice; whoever keeps the tasks must refuse while `Grid.open` has any. settled: the
    table was drawn by the house, so that notes are words alone.
    """
    grid, given = Grid(), answers or {}
    if not table or not any(any(row) for row in table):
        grid.faults.append(Fault(1, 1, _("the table is empty")))
        return grid
    cells = [list(row) for row in table]
    layout = lay_out(cells)
    grid.faults += layout.faults
    grid.headings += layout.headings
    kinds = {column.kind for column in layout.columns}
    if TASK in kinds and (kinds & {*TIMED} or (layout.is_list and not layout.faults)):
        shared = _shared(cells, layout, settled)
        carried = above = ""
        text = next((at for at, column in enumerate(layout.columns) if column.kind == TEXT), None)
        for number in layout.rows:
            made = read_row(number, cells[number], shared, carried, given, above)
            carried = made.carried
            above = cells[number][text] or above if text is not None else ""
            grid.tasks += made.tasks
            grid.faults += made.faults
            grid.questions += made.questions
            if made.is_heading:
                grid.headings.append((number + 1, made.is_heading))
        if not grid.tasks and not grid.faults and not grid.questions:
            grid.faults.append(Fault(layout.body + 1, 1, _("there is no task below the headings")))
        _titles_once(grid, layout, table, given)
        _words_of_none(grid, layout, table, given)
        if not settled:
            _offer(grid, table, given)
    grid.headings.sort()
    grid.faults.sort(key=lambda fault: (fault.row, fault.column))
    grid.questions.sort(key=lambda question: (question.row, question.column))
    return grid


def _shared(table: Sequence[Sequence[str]], layout: Layout, settled: bool) -> Table:
    """What the marks of the whole table say of each of them."""
    marked = [at for at, column in enumerate(layout.columns) if column.is_interval]
    body = [table[number] for number in layout.rows]
    signs = used_in([row[at] for row in body for at in marked if at < len(row)])
    first = used_in([row[at] for row in body for at in marked if layout.columns[at].first and at < len(row)])
    steps = [
        (at, column.hours)
        for at, column in enumerate(layout.columns)
        if column.is_interval
        and column.hours
        and not column.first
        and not column.months
        and column.condition == NORMAL
        and not (column.said and column.said.doubt)
    ]
    hours = [amount for _at, amount in steps]
    if not table_life.is_life(hours):
        hours = []
    shown = bool(hours) and any(
        table_life.shows_life(dots, hours[-1])
        for row in body
        for sign in {row[at] for at, _amount in steps if row[at]} | {""}
        if (dots := [amount for at, amount in steps if row[at] and sign in ("", row[at])])
    )
    return Table(
        layout,
        signs,
        life=tuple(hours),
        life_shown=shown,
        only_circles=bool(signs) and all(sign in FIRST_ONLY - set("oO0") for sign in signs),
        circles_first=any(sign in "oO0" for sign in first) and any(sign in "xX" for sign in signs),
        settled=settled,
    )


def _offer(grid: Grid, table: Sequence[Sequence[str]], answers: Mapping[str, str]) -> None:
    """Offer to have a value entered where a specification has limits; without a yes they stay words."""
    for at, task in enumerate(grid.tasks):
        limits = limits_in(f"{task.title} {task.note}")
        if not limits:
            continue
        digest, place = f"{crc32('|'.join(table[task.row - 1]).encode()):08x}", f"{task.row}.m"
        taken = answered(answers, place, digest) == YES
        grid.offers.append(Offer(task.row, place, digest, task.title, limits, taken))
        if taken:
            grid.tasks[at] = replace(task, measured=limits)


def _titles_once(
    grid: Grid, layout: Layout, table: Sequence[Sequence[str]], answers: Mapping[str, str]
) -> None:
    """Put together what stands in two rows under one name, or ask; nothing is done twice without a word."""
    seen: dict[str, GridTask] = {}
    column = layout.at(TASK) + 1
    for task in list(grid.tasks):
        earlier = seen.setdefault(task.title.lower(), task)
        if earlier.row == task.row and earlier is not task:
            merged = _merged(earlier, task)
            grid.tasks[grid.tasks.index(earlier)] = seen[task.title.lower()] = merged
            grid.tasks.remove(task)
            continue
        if earlier is not task and earlier not in grid.tasks:  # an answer left it out
            seen[task.title.lower()] = task
            continue
        if earlier is task:
            continue
        one, other = layout.sections.get(earlier.row - 1), layout.sections.get(task.row - 1)
        parts = [layout.parts.get(each.row - 1, "") for each in (earlier, task)]
        if one and other and one[0] != other[0] and _one_line_of(earlier, task):
            merged = _merged(earlier, task)
            grid.tasks[grid.tasks.index(earlier)] = seen[task.title.lower()] = merged
            grid.tasks.remove(task)
            continue
        names = parts if parts[0] != parts[1] and all(parts) else []
        if one and other and one[0] != other[0]:
            names = [one[1], other[1]]
        if not names and set(earlier.marks) == set(task.marks):
            sentence = _(
                "the same task is in row {row}; put its marks in one row or give it another name"
            ).format(row=earlier.row)
            grid.faults.append(Fault(task.row, column, sentence, task.title))
            continue
        _same_title(grid, (earlier, task), names, column, table, answers)
        seen[task.title.lower()] = next(
            (each for each in grid.tasks if each.row == earlier.row and each.title.startswith(task.title)),
            task,
        )


def _one_line_of(one: GridTask, other: GridTask) -> bool:
    """Whether two rows are plainly the first time and each time of one task."""
    firsts = [all(mark.first for mark in task.marks) for task in (one, other) if task.marks]
    eachs = [not any(mark.first for mark in task.marks) for task in (one, other) if task.marks]
    return len(firsts) == 2 and any(firsts) and any(eachs) and not (one.when or other.when)


def _merged(one: GridTask, other: GridTask) -> GridTask:
    notes = list(dict.fromkeys(filter(None, [*one.note.split("\n"), *other.note.split("\n")])))
    pages = list(dict.fromkeys(filter(None, [one.page, other.page])))
    when = list(dict.fromkeys(filter(None, [one.when, other.when])))
    return replace(
        one,
        marks=tuple(dict.fromkeys((*one.marks, *other.marks))),
        page=", ".join(pages)[:20] if len(", ".join(pages)) <= 20 else one.page,
        note="\n".join(notes),
        when=" / ".join(when),
        remarks=(*one.remarks, *other.remarks),
    )


def _same_title(
    grid: Grid,
    tasks: tuple[GridTask, GridTask],
    names: Sequence[str],
    column: int,
    table: Sequence[Sequence[str]],
    answers: Mapping[str, str],
) -> None:
    """Ask whether two rows of one name are one task; without names of sections they can only be one."""
    earlier, task = tasks
    row = tuple(table[task.row - 1])
    digest = f"{crc32('|'.join([*row, *names]).encode()):08x}"
    place = f"{task.row}.{column}s"
    apart = tuple(
        replace(each, title=f"{each.title} ({name.rstrip(': ')})"[:160])
        for each, name in zip(tasks, names, strict=False)
    )
    choices = [
        Choice("one", (_merged(earlier, task),)),
        Choice("first", (earlier,)),
        Choice("second", (task,)),
    ]
    if apart:
        choices.insert(0, Choice("apart", apart))
    choices.append(Choice(LEAVE_OUT, (), (), _("Leave out both rows")))
    given = answered(answers, place, digest)
    given = given if given in {choice.code for choice in choices} else ""
    chosen = next((choice for choice in choices if choice.code == given), choices[0])
    at = grid.tasks.index(earlier)
    grid.tasks.remove(task)
    grid.tasks[at : at + 1] = chosen.tasks
    sentence = _("The same task is in row {row}. Are they one?").format(row=earlier.row)
    grid.questions.append(
        Question(
            *(task.row, column, place, digest, "same", sentence, row, tuple(choices)),
            title=task.title,
            also=(earlier.row,),
            answer=given,
        )
    )


def _words_of_none(
    grid: Grid, layout: Layout, table: Sequence[Sequence[str]], answers: Mapping[str, str]
) -> None:
    """Ask of footnotes that no row names, and of other words, whether they belong to every task."""
    named = {name for row in table for cell in row for name in references(cell)}
    named |= {cell.lower().strip("()[]. ") for row in table for cell in row if len(cell) < 12}
    named |= {name for cell in named for name in cell.split()}
    loose = [
        (layout.note_rows[key], words)
        for key, words in layout.notes.items()
        if key not in named or not any(words in task.note for task in grid.tasks)
    ]
    for row, words in [*loose, *layout.words]:
        typed = tuple(table[row - 1])
        digest, place = f"{crc32('|'.join(typed).encode()):08x}", f"{row}.1w"
        given = answered(answers, place, digest)
        given = given if given in ("all", LEAVE_OUT) else ""
        if given == "all":
            grid.tasks = [
                replace(task, note="\n".join(filter(None, [task.note, words]))) for task in grid.tasks
            ]
        elif given == LEAVE_OUT:
            grid.words.append((row, words))
        choices = (
            Choice("all", (), (), _("Keep it on every task: “{words}”").format(words=words)),
            Choice(LEAVE_OUT, (), (), _("Leave it out: it belongs to no task")),
        )
        sentence = _("No task refers to these words. Do they belong to every task?")
        grid.questions.append(
            Question(row, 1, place, digest, "loose", sentence, typed, choices, answer=given)
        )
