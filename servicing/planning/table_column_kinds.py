"""What the columns of a maker's table hold, by their headings and by what stands below them."""

import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from decimal import Decimal

from servicing.planning import table_heading_words as heads
from servicing.planning import table_words as words
from servicing.planning.language import gettext as _
from servicing.planning.table_act_cells import are_act_cells
from servicing.planning.table_doubts import BARE, Said
from servicing.planning.table_grid import Fault
from servicing.planning.table_heading_rows import TIMED, Cells, is_mark, is_said, is_worded, joined, unit_over
from servicing.planning.table_headings import (
    ACT,
    INTERVAL,
    ITEM,
    NOTE,
    PAGE,
    SPEC,
    TASK,
    TEXT,
    UNREAD,
    Column,
    read_kind,
    unit_of,
)
from servicing.planning.table_intervals import read_interval, units_in, without_unit
from servicing.planning.table_keys import key_in
from servicing.planning.table_line_parts import is_who
from servicing.planning.table_signs import NOTHING, bare_of
from servicing.planning.table_words import HOURS, plain

UNIT_IN_BRACKETS = re.compile(r"[(\[]\s*(?:h|hrs?|std|mo|mon|yr|km|u|a)\s*[)\]]", re.I)
PAGE_NAMED = re.compile(r"(?:p\.?|pp\.?|s\.|seite|page|pag\.|pág\.|blz\.?)\s*[A-Z]{0,2}[-–.]?\d", re.I)
MONTH_LIKE = {1, 2, 3, 4, 6, 9, 12, 18, 24, 30, 36, 48, 60, 72}
ONE_OF_TIME = frozenset(
    ["year", "month", "jahr", "monat", "an", "annee", "ano", "mes", "anno", "mese", "jaar", "maand"]
)
MULTIPLE = re.compile(r"[x×]\s*(10+)(?!\d)", re.I)
LONG_ENOUGH = 6  # characters of a cell that is no mark


def columns_below(
    table: Cells, first: int, last: int, over: list[str] | None, coded: Collection[int] = ()
) -> tuple[list[Column], list[Fault]]:
    """Return the columns under the headings of these rows, and what is wrong with them.

    over: their units. coded: columns whose codes a key explains.
    """
    rows = [list(row) for row in table[first : last + 1]]
    if over:  # what stands over nothing is a heading itself: `Every year` beside `Hours`
        own = [cell if not any(each[at] for each in rows) else "" for at, cell in enumerate(table[first - 1])]
        rows.append(own)
        over = ["" if cell else group for cell, group in zip(own, over, strict=True)]
    over = over or unit_over(rows)
    headings = joined(rows)
    multiples = [_multiple(group) for group in over]
    headings = [_times(cell, count) for cell, count in zip(headings, multiples, strict=True)]
    below = [row for row in table[last + 1 :] if sum(map(bool, row)) > 1] or table[last + 1 :]
    columns = [
        read_kind(_bare(cell), unit=unit_of(group), first=bool(words.FIRST.search(plain(group))))
        for cell, group in zip(headings, over, strict=True)
    ]
    columns = [
        replace(column, heading=cell, group=group)
        for column, cell, group in zip(columns, headings, over, strict=True)
    ]
    for at, column in enumerate(columns):
        cells = [row[at] for row in below if at < len(row) and row[at]]
        columns[at] = _by_cells(column, cells, table)
        if columns[at].kind == TEXT and columns[at].unit is None:
            columns[at] = replace(columns[at], unit=_unit_nearby(cells, table[: last + 1]))
        if first and plain(table[first - 1][at]).strip(" .:") in heads.NOTE_HEADINGS and over[at]:
            columns[at] = replace(column, kind=NOTE, heading=table[first - 1][at])  # a box beside the table
    for at in coded:
        if columns[at].kind not in (INTERVAL, PAGE, NOTE) and not _numbers_rows(columns[at]):
            columns[at] = replace(columns[at], kind=TEXT, coded=True)
    _acts_beside(columns, below)
    if not any(column.kind in (TASK, ITEM, ACT) for column in columns):
        for at, column in enumerate(columns):  # "Service interval (h)" over the tasks
            cells = [row[at] for row in below if at < len(row) and row[at]]
            if column.kind == TEXT and cells and not any(is_said(cell) or cell.isdigit() for cell in cells):
                columns[at] = replace(column, kind=TASK, unit=None)
                break
    guessed = [
        at
        for at, column in enumerate(columns)
        if column.kind == TEXT and not (column.acts or column.coded) and read_kind(headings[at]).kind != TEXT
    ]
    if guessed and sum(column.kind in TIMED for column in columns) > 1:
        for at in guessed:  # which of them holds when, nobody can say
            columns[at] = replace(columns[at], kind=UNREAD)
    _months_or_hours(columns)
    _one_task(columns, below)
    return columns, _faults(columns, below, last + 1)


def _numbers_rows(column: Column) -> bool:
    return plain(column.heading).strip(" .") in heads.NUMBER_HEADINGS


def _acts_beside(columns: list[Column], below: Cells) -> None:
    """Find columns whose cells say what is done and how often, beside the one that names the tasks."""
    named = [at for at, column in enumerate(columns) if column.kind in (TASK, ITEM, ACT)]
    for at, column in enumerate(columns):
        others = [each for each in named if each != at]
        if (
            column.coded
            or column.kind not in (TASK, ITEM, ACT, TEXT, UNREAD, SPEC)
            or not column.heading
            or not others
        ):
            continue
        cells = [row[at] for row in below if at < len(row) and row[at]]
        if are_act_cells(cells, column.heading) and min(others) < at:
            columns[at] = replace(column, kind=TEXT, acts=True, unit=unit_of(column.heading))
        elif is_who(column.heading) and all(map(is_mark, cells)) and _is_timed_beside(columns):
            columns[at] = replace(column, kind=SPEC)  # who does what another column says when


def _is_timed_beside(columns: Sequence[Column]) -> bool:
    return any(column.kind in TIMED and not column.acts for column in columns)


def _multiple(group: str) -> int:
    """What the numbers under a heading are to be taken times: `Hours x 100`; 1 where it says nothing."""
    found = MULTIPLE.search(group)
    return int(found[1]) if found and unit_of(group) else 1


def _unit_nearby(cells: Sequence[str], above: Cells) -> str | None:
    """Hours, where other cells of a column or else the words over the table name no other unit; or None."""
    if any(cell.isdigit() and int(cell) in MONTH_LIKE for cell in cells if len(cell) < 3):
        return None  # "24" beside "500 h" may well be months
    units = {unit for cell in cells for unit in units_in(cell)}
    units = units or {unit for row in above for cell in row if (unit := unit_of(cell))}
    return HOURS if units == {HOURS} else None


def _months_or_hours(columns: list[Column]) -> None:
    """Let bare numbers over columns be a question where all of them may count months: `12`, `24`, `36`."""
    bare = [at for at, column in enumerate(columns) if column.kind == INTERVAL and column.heading.isdigit()]
    counts = {int(columns[at].heading) for at in bare if not unit_of(columns[at].group)}
    if not bare or any(unit_of(column.heading) for column in columns) or not counts or counts - MONTH_LIKE:
        return
    for at in bare:
        said = columns[at].said
        if said is not None and not said.doubt and columns[at].hours is not None:
            columns[at] = replace(columns[at], said=without_unit(said))


def _times(heading: str, count: int) -> str:
    if count == 1 or not re.fullmatch(r"\d+(?:[.,]\d+)?", heading):
        return heading
    return f"{(Decimal(heading.replace(',', '.')) * count).normalize():f}"


def _bare(heading: str) -> str:
    """A heading without its footnotes; a unit in brackets is none."""
    return heading if UNIT_IN_BRACKETS.search(heading) else bare_of(heading) or heading


def _by_cells(column: Column, cells: Sequence[str], table: Cells) -> Column:
    """Read a heading by what stands below it: a number of rows, a package explained elsewhere, words."""
    cells = [cell for cell in cells if plain(cell) not in NOTHING]
    marks = sum(map(is_mark, cells))
    if not column.heading and cells and all(PAGE_NAMED.match(cell) for cell in cells):
        return replace(column, kind=PAGE)
    if column.kind == TEXT and plain(column.heading).strip(" .") in ONE_OF_TIME and cells:
        said = read_interval(f"1 {plain(column.heading)}")
        if said and all(len(cell) <= 3 and not re.search(r"\d", cell) for cell in cells):
            return replace(column, kind=INTERVAL, months=said.first.marks[0].months, said=said)
    if column.kind in (TASK, ITEM, ACT, TEXT) and column.heading and marks and marks * 2 >= len(cells):
        said = _explained(bare_of(column.heading), table)
        if said and said.first.marks and len(said.readings) == 1:
            return replace(column, kind=INTERVAL, said=said)
        return replace(column, kind=UNREAD)
    short = marks or (cells and all(re.fullmatch(r"[A-Z]{1,2}", cell) for cell in cells))
    if column.kind in (TASK, ITEM, ACT) and len(column.heading) <= 3 and short:
        said = _explained(column.heading, table) if column.heading else None
        if said and said.first.marks and not said.doubt:
            return replace(column, kind=INTERVAL, said=said)
    doubtful = column.heading.isdigit() or (column.said is not None and column.said.doubt)
    if column.kind == INTERVAL and doubtful and (said := _explained(column.heading, table)):
        return replace(column, said=said, hours=None, months=None)
    if column.kind in (ITEM, ACT, TASK) and column.heading and len(cells) > 1 and is_worded(cells):
        return replace(column, kind=TEXT, unit=unit_of(column.heading))
    if (
        column.kind in (ITEM, ACT, TASK)
        and cells
        and not (column.kind == ITEM and any(re.search(r"[A-Z]", cell) for cell in cells))
        and all(re.fullmatch(r"[\dA-Z]{0,2}\d+(?:\.\d+)*\.?", c) for c in cells)
    ):
        return replace(column, kind=UNREAD)
    return column


def _explained(name: str, table: Cells) -> Said | None:
    """What a sentence of the table says of a service package: `Service A: every 250 h.`"""
    pattern = re.compile(
        rf"(?:^|[\s.;,(])(?:\w+ )?{re.escape(name)}(?: \w+)?\s*[:=]\s*([^;=]+?)"
        r"(?=[.;]\s|[.;]?$|,\s*\w+(?: \w+)?\s*[:=]|\s+\w{1,12}\s*[:=]\s)",
        re.I,
    )
    for row in table:
        said = [cell for cell in row if cell]
        if len(said) == 2 and said[0].rstrip(":= ") == name:
            return _named_first(name, said[1])
        found = pattern.search(said[0]) if len(said) == 1 else None
        if found:
            return _named_first(name, found[1])
    for row in table:
        key = key_in("  ".join(cell for cell in row if cell))
        if name in key:
            return _named_first(name, key[name])
    return None


def _named_first(name: str, interval: str) -> Said | None:
    """What a package's interval means; one called the first is due once or each time: `1st = 50 h`."""
    first = words.FIRST.search(plain(name)) is not None
    said = read_interval(interval, first=first or None)
    each = read_interval(interval)
    if first and name[:1].isdigit() and said and each and not said.doubt:
        return replace(said, readings=(*said.readings, *each.readings), doubt=BARE)
    return said


def _one_task(columns: list[Column], below: Cells) -> None:
    """Decide which column names the tasks, what stands beside it, and which columns only hold words."""
    named = [at for at, column in enumerate(columns) if column.kind in (TASK, ITEM, ACT)]
    worded = [at for at in named if any(row[at] for row in below if at < len(row))]
    candidates = worded or named
    if not candidates:
        return
    pure = [at for at in candidates if columns[at].kind == TASK and columns[at].heading]
    items = [at for at in candidates if columns[at].kind == ITEM]
    acts = [at for at in candidates if columns[at].kind == ACT]
    known = [at for at in pure if plain(columns[at].heading).strip(" .:*") in heads.TASK_HEADINGS]
    before = [at for at in pure if not acts or at < acts[0]]  # "Operation | By | Applies to"
    task = (items[-1:] or known or before or acts or candidates)[0]
    if not items and not pure and len(acts) == 1:
        task = acts[0]
    elif not items and candidates[0] < task and columns[candidates[0]].heading == "":
        task = candidates[0]
    act = next((at for at in acts if at != task), None)
    if act is None and items and pure and pure[0] > task and _holds_acts(pure[0], below):
        act = pure[0]
    if act is None and task + 1 in worded and not columns[task + 1].heading and columns[task].heading:
        act = task + 1 if _holds_acts(task + 1, below, longest=3) else None  # "Item" over its act too
    for at in named:
        if at == task:
            columns[at] = replace(columns[at], kind=TASK)
        elif at == act:
            columns[at] = replace(columns[at], kind=ACT)
        elif columns[at].heading and at in worded and _holds_words(columns[at], at, below):
            columns[at] = replace(columns[at], kind=SPEC)
        elif not columns[at].heading and at in worded and _holds_words(columns[at], at, below):
            columns[at] = replace(columns[at], kind=NOTE)  # words beside the table
        else:
            columns[at] = replace(columns[at], kind=UNREAD)


def _holds_acts(at: int, below: Cells, longest: int = 0) -> bool:
    """Whether most cells of a column name what is done; longest: by how many words at most, 0 any number."""
    cells = [row[at] for row in below if at < len(row) and row[at]]
    short = [cell for cell in cells if not longest or len(cell.split()) <= longest]
    return sum(bool(words.acts_of(cell)) for cell in short) * 2 > len(cells)


def _holds_words(column: Column, at: int, below: Cells) -> bool:
    """Whether a column only holds words: by its heading, or by cells too long for a mark."""
    cells = [row[at] for row in below if at < len(row) and row[at] and plain(row[at]) not in NOTHING]
    known = (
        plain(column.heading).strip(" .:*") in heads.TASK_HEADINGS | heads.ITEM_HEADINGS | heads.ACT_HEADINGS
    )
    return known or sum(len(cell) >= LONG_ENOUGH for cell in cells) * 2 > len(cells)


def _faults(columns: Sequence[Column], below: Cells, row: int) -> list[Fault]:
    """Say of each column that can't be read what is wrong with it."""
    faults: list[Fault] = []
    task = next((at for at, column in enumerate(columns) if column.kind == TASK), None)
    for at, column in enumerate(columns):
        cells = [each[at] for each in below if at < len(each) and each[at]]
        numbered = plain(column.heading).strip(" .") in heads.NUMBER_HEADINGS or (
            cells
            and (task is None or at < task)
            and len({*cells}) == len(cells)
            and all(re.fullmatch(r"[\dA-Z]{0,2}\d+(?:\.\d+)*\.?", cell) for cell in cells)
        )
        if column.kind != UNREAD or at == task or numbered or not (column.heading or cells):
            continue
        sentence = _("the heading is missing")
        if column.heading:
            sentence = _(
                "“{cell}” is not an interval. Write “first 50 h”, “every 100 h”, “1 year”, “page” or “note”."
            ).format(cell=column.heading)
        faults.append(Fault(row, at + 1, sentence))
    if faults:
        return faults
    if not any(column.kind in TIMED for column in columns):
        sentence = _("no column is an interval. Add a heading like “every 100 h” or “1 year”.")
        faults.append(Fault(row, 1, sentence))
    if task is None:
        sentence = _("no column has the tasks. Give it the heading “Task”.")
        faults.append(Fault(row, 1, sentence))
    return faults
