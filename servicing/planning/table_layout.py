"""Where things stand in a maker's table: title, headings, sections, tasks, footnotes and the legend."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from servicing.planning import table_words as words
from servicing.planning.language import gettext as _
from servicing.planning.table_grid import Fault
from servicing.planning.table_headings import (
    ACT,
    INTERVAL,
    ITEM,
    NOTE,
    OCCASION,
    PAGE,
    SPEC,
    TASK,
    TEXT,
    UNREAD,
    WHEN,
    Column,
    read_heading,
    read_kind,
    unit_of,
)
from servicing.planning.table_intervals import Said, read_interval
from servicing.planning.table_signs import (
    FIRST_ONLY,
    NOTHING,
    RAISED,
    REFERENCE,
    REPEATED,
    Sign,
    bare_of,
    legend,
    references,
    split,
    used_in,
)
from servicing.planning.table_words import plain

TIMED = (INTERVAL, TEXT, WHEN, OCCASION)
Cells = Sequence[Sequence[str]]
FOOTNOTE = re.compile(
    r"(?:[(\[]([0-9a-z*†‡]{1,3})[)\]]"
    r"|(?:note|nota|noot|anmerkung|anm\.?|fussnote|fußnote|remarque|opmerking|hinweis)\s+(\d{1,2})\s*[:.)]"
    r"|([¹²³⁴⁵⁶⁷⁸⁹⁰]+|\*+\d?|[†‡])|(\d{1,2})[).:])\s*(.*)",
    re.IGNORECASE | re.DOTALL,
)
NAMED_NOTE = re.compile(
    r"^(?:see\s+)?(?:note|nota|noot|anmerkung|anm\.?|fussnote|fußnote|remarque|opmerking|hinweis)\s+(\d{1,2})$",
    re.IGNORECASE,
)
PAGE_CELL = re.compile(
    r"(?:p\.?|pp\.?|s\.|seite|page|pag\.|pág\.|blz\.?)?\s*[A-Z]{0,2}[-–.]?\d+(?:[-–.]\d+)*$", re.I
)
PAGES = re.compile(r"[A-Z]?\d{1,3}[-–]\d{1,3}")
NUMBERING = re.compile(r"^\s*(?:\d{1,2}(?:\.\d{1,2})+\.?|\d{1,2}[.)]|[A-Z][.)])\s+(?=\S)")
BULLET = re.compile(r"^\s*(?:[•●▪■□◦*–-]\s+|\d{1,2}(?:\.\d{1,2})+\.?\s+|\d{1,2}[.)]\s+)(?=\S)")
HIGHEST_HEADING, MOST_HEADING_ROWS, LONG_ENOUGH = 12, 3, 6


@dataclass(slots=True)
class Layout:
    """The columns of a table, and what each row below its headings is.

    notes: footnotes by their reference. signs: the legend. sections: by row, the interval that stands over it
    and the words. parts: by row, the title of the section it is in. over: words of rows that are neither task
    nor note.
    """

    body: int
    columns: list[Column]
    faults: list[Fault] = field(default_factory=list)
    notes: dict[str, str] = field(default_factory=dict)
    note_rows: dict[str, int] = field(default_factory=dict)
    signs: dict[str, Sign] = field(default_factory=dict)
    rows: list[int] = field(default_factory=list)
    sections: dict[int, tuple[int, str, Said]] = field(default_factory=dict)
    parts: dict[int, str] = field(default_factory=dict)
    headings: list[tuple[int, str]] = field(default_factory=list)
    words: list[tuple[int, str]] = field(default_factory=list)

    def at(self, kind: str) -> int:
        """The first column of a kind, counted from 0."""
        return next((at for at, column in enumerate(self.columns) if column.kind == kind), 0)

    @property
    def is_list(self) -> bool:
        """Whether no column holds intervals, so that sections say them."""
        return not any(column.kind in TIMED for column in self.columns)


def lay_out(table: list[list[str]]) -> Layout:
    """Return the layout of a table that has a cell with words.

    Where an interval and its task share a cell, the task alone is left in it.
    """
    start = next(number for number, row in enumerate(table) if any(row))
    found = _heading_rows(table, start)
    if found is None and (columns := _without_headings(table)):
        layout = Layout(start, columns)
    elif found is None and _is_list(table):
        layout = _list_of_sections(table)
    else:
        first, last, over = found or (start, start, None)
        layout = _with_headings(table, start, first, last, over)
    if not layout.faults or any(column.kind == TASK for column in layout.columns):
        _part_rows(table, layout)
    return layout


def _heading_rows(table: Cells, start: int) -> tuple[int, int, list[str] | None] | None:
    """Return the first and the last row of the headings, and the units over them; None: there are none."""
    best, most = None, 0
    for at in range(start, min(start + HIGHEST_HEADING, len(table))):
        row = table[at]
        if sum(map(bool, row)) < 2 or any(_is_mark(cell) for cell in row):
            continue
        below = [each for each in table[at + 1 :] if sum(map(bool, each)) > 1]
        if _is_data(row, below) or (at > start and not below):
            continue
        score = _score(row)
        if score and score - (at - start) > most:
            best, most = at, score - (at - start)
    if best is None:
        return _grouped(table, start)
    most += best - start
    first = last = best
    over = None
    if first > start and _is_group(table[first - 1], table[first]):
        over = _spread(table[first - 1])
    else:
        while first > start and last - first < MOST_HEADING_ROWS - 1 and _is_part(table[first - 1]):
            if _score(_joined(table[first - 1 : last + 1])) < most:
                break
            first -= 1
    while last + 1 < len(table) and last - first < MOST_HEADING_ROWS and _goes_on(table, first, last):
        last += 1
    if over is None and first == last and (grouped := _grouped(table, first)):
        return grouped
    return first, last, over


def _is_data(row: Sequence[str], below: Cells) -> bool:
    """Whether a row's intervals are cells and no headings: a lone number, or more intervals below them."""
    intervals = [at for at, cell in enumerate(row) if cell and read_kind(cell).kind in (INTERVAL, WHEN)]
    if len(intervals) == 1 and re.fullmatch(r"[\d.,\s-]+", row[intervals[0]]) and len(below) > 1:
        return not any(_is_mark(each[intervals[0]]) for each in below)
    for at in intervals:
        cells = [each[at] for each in below if each[at]]
        figures = sum(cell.isdigit() for cell in cells)
        if _is_worded(cells) or (row[at].isdigit() and figures * 2 > len(cells)):
            return True
    return False


def _is_worded(cells: Sequence[str]) -> bool:
    """Whether cells hold intervals in words."""
    return sum(map(_is_said, cells)) * 2 > len(cells)


def _is_said(cell: str) -> bool:
    """Whether a cell says an interval in words, certain or not; a number alone says none."""
    said = None if _is_mark(cell) or re.fullmatch(r"[\d.,\s–-]+", cell) else read_interval(cell)
    return (
        said is not None
        and not (said.rest and said.doubt)
        and any(reading.marks or reading.when != "as written" for reading in said.readings)
    )


def _grouped(table: Cells, start: int) -> tuple[int, int, list[str] | None] | None:
    """Headings of bare numbers under a row that gives them their unit, or below each other."""
    if start + 1 < len(table) and _is_group(table[start], table[start + 1]):
        if not _is_data(table[start + 1], table[start + 2 :]):
            return start + 1, start + 1, _spread(table[start])
    return None


def _is_part(row: Sequence[str]) -> bool:
    said = [cell for cell in row if cell]
    return len(said) >= 2 and all(len(cell) <= 30 for cell in said) and not any(map(_is_mark, said))


def _goes_on(table: Cells, first: int, last: int) -> bool:
    """Whether the row below the headings is their second line: words over marks, none where tasks stand."""
    row, joined = table[last + 1], _joined(table[first : last + 1])
    said = [cell for cell in row if cell]
    if not said or any(map(_is_mark, said)) or row[_task_at(joined)]:
        return False
    return _score(_joined(table[first : last + 2])) >= _score(joined)


def _task_at(heads: Sequence[str]) -> int:
    for at, head in enumerate(heads):
        if plain(head).strip(" .:") in words.TASK_HEADINGS | words.ITEM_HEADINGS:
            return at
    return next((at for at, head in enumerate(heads) if read_heading(head).kind == TASK), 0)


def _joined(rows: Cells) -> list[str]:
    return [" ".join(filter(None, cells)) for cells in zip(*rows, strict=True)]


def _score(row: Sequence[str]) -> int:
    """How much of a row reads as headings of a table: intervals count for more than the rest."""
    bare = sum(cell.isdigit() for cell in row)
    read = [
        read_kind(cell)
        for cell in row
        if cell and not PAGES.fullmatch(cell) and (bare > 1 or not cell.isdigit())
    ]
    intervals = sum(column.kind in TIMED and not column.act for column in read)
    acts = [column for column in read if column.act]
    intervals += 1 if len(acts) > 1 else 0
    others = len(acts) + sum(column.kind in (PAGE, NOTE, SPEC, ACT, ITEM) for column in read)
    named = sum(plain(cell).strip(" .:") in words.TASK_HEADINGS for cell in row)
    return 0 if not intervals else 3 * intervals + others + named


def _is_group(row: Sequence[str], below: Sequence[str]) -> bool:
    """Whether a row only groups the columns under it: it holds no interval, and the row below does."""
    said = [cell for cell in row if cell]
    return (
        not any(read_heading(cell).is_interval for cell in said)
        and any(unit_of(cell) for cell in said)
        and any(read_heading(cell, unit=unit_of("hours")).is_interval for cell in below)
    )


def _spread(row: Sequence[str]) -> list[str]:
    over, last = [], ""
    for cell in row:
        last = cell or last
        over.append(last)
    return over


def _is_mark(cell: str) -> bool:
    bare = bare_of(cell)
    return bare in REPEATED or bare in FIRST_ONLY - {"0"} or bare in NOTHING - {"."}


def _without_headings(table: Cells) -> list[Column]:
    """Return the columns of a table that begins with its tasks, beside each its interval in words."""
    rows = [row for row in table if sum(map(bool, row)) > 1]
    if not rows or len(rows) * 2 < sum(any(row) for row in table):
        return []
    columns: list[Column] = []
    for at in range(len(rows[0])):
        cells = [row[at] for row in rows if row[at]]
        kind = NOTE
        if rows[0][at] and _is_said(rows[0][at]) and _is_worded(cells):
            kind = TEXT
        elif cells and all(PAGE_CELL.match(cell) for cell in cells):
            kind = PAGE if columns else UNREAD
        elif not any(column.kind == TASK for column in columns):
            kind = TASK
        columns.append(Column(kind))
    return columns if {TASK, TEXT} <= {column.kind for column in columns} else []


def _is_list(table: Cells) -> bool:
    """Whether intervals stand alone on their rows, with tasks below them."""
    return any(_section(row) is not None or _inline(row) is not None for row in table)


def _section(row: Sequence[str]) -> Said | None:
    said = [cell for cell in row if cell]
    if len(said) != 1 or len(said[0]) > 100:
        return None
    text = NUMBERING.sub("", bare_of(said[0])).rstrip(":")
    if BULLET.match(text):
        return None
    found = read_interval(text)
    if found is None:
        return None
    if found.rest or found.doubt:  # `Every 2nd oil change` ends the section before it
        begins = any(each.match(plain(text)) for each in (words.EVERY, words.FIRST, words.AFTER))
        return found if begins and found.doubt else None
    return found


def _inline(row: Sequence[str]) -> tuple[Said, str] | None:
    """A line that says an interval and, after a colon, what is done then: `Daily: check the oil`."""
    said = [cell for cell in row if cell]
    before, colon, after = said[0].partition(":") if len(said) == 1 else ("", "", "")
    if not colon or not after.strip():
        return None
    found = _section([before])
    return (found, after.strip()) if found and not found.doubt else None


def _list_of_sections(table: Cells) -> Layout:
    """Tasks below the intervals that are titles; beside them pages and words."""
    width = len(table[0])
    columns = [Column(TASK)]
    for at in range(1, width):
        below = [row[at] for row in table if row[at]]
        pages = below and all(PAGE_CELL.match(cell) for cell in below)
        columns.append(Column(PAGE if pages else NOTE))
    body = 0
    return Layout(body, columns)


def _with_headings(table: Cells, start: int, first: int, last: int, over: list[str] | None) -> Layout:
    heads = _joined(table[first : last + 1])
    over = over or [""] * len(heads)
    layout = Layout(last + 1, [])
    layout.headings = [
        (number + 1, " ".join(filter(None, table[number])))
        for number in range(start, first - (1 if any(over) else 0))
        if any(table[number])
    ]
    below = [row for row in table[last + 1 :] if sum(map(bool, row)) > 1] or table[last + 1 :]
    columns = [
        read_kind(bare_of(cell) or cell, unit=unit_of(group), first="first" in plain(group))
        for cell, group in zip(heads, over, strict=True)
    ]
    columns = [
        replace(column, heading=cell, group=group)
        for column, cell, group in zip(columns, heads, over, strict=True)
    ]
    for at, column in enumerate(columns):
        cells = [row[at] for row in below if at < len(row) and row[at]]
        columns[at] = _by_cells(column, cells, table)
    if not any(column.kind in (TASK, ITEM, ACT) for column in columns):
        for at, column in enumerate(columns):  # "Service interval (h)" over the tasks
            cells = [row[at] for row in below if at < len(row) and row[at]]
            if column.kind == TEXT and cells and not any(_is_said(cell) or cell.isdigit() for cell in cells):
                columns[at] = replace(column, kind=TASK, unit=None)
                break
    guessed = [
        at for at, column in enumerate(columns) if column.kind == TEXT and read_kind(heads[at]).kind != TEXT
    ]
    if guessed and sum(column.kind in TIMED for column in columns) > 1:
        for at in guessed:  # which of them holds when, nobody can say
            columns[at] = replace(columns[at], kind=UNREAD)
    _one_task(columns, below)
    _refuse(columns, below, last + 1, layout)
    layout.columns = columns
    return layout


def _by_cells(column: Column, cells: Sequence[str], table: Cells) -> Column:
    """Read a heading by what stands below it: a number of rows, a package explained elsewhere, words."""
    cells = [cell for cell in cells if plain(cell) not in NOTHING]
    marks = sum(map(_is_mark, cells))
    if column.kind in (TASK, ITEM, ACT, TEXT) and column.heading and marks and marks * 2 >= len(cells):
        said = _explained(bare_of(column.heading), table)
        if said and said.first.marks and len(said.readings) == 1:
            return replace(column, kind=INTERVAL, said=said)
        return replace(column, kind=UNREAD)
    if column.kind == INTERVAL and column.heading.isdigit() and (said := _explained(column.heading, table)):
        return replace(column, said=said, hours=None, months=None)
    if column.kind in (ITEM, ACT, TASK) and column.heading and len(cells) > 1 and _is_worded(cells):
        return replace(column, kind=TEXT, unit=unit_of(column.heading))
    if (
        column.kind in (ITEM, ACT, TASK)
        and cells
        and all(re.fullmatch(r"[\dA-Z]{0,2}\d+(?:\.\d+)*\.?", c) for c in cells)
    ):
        return replace(column, kind=UNREAD)
    return column


def _explained(name: str, table: Cells) -> Said | None:
    """What a sentence of the table says of a service package: `Service A: every 250 h.`"""
    pattern = re.compile(
        rf"(?:^|[\s.;,(])(?:\w+ )?{re.escape(name)}(?: \w+)?\s*[:=]\s*([^;=]+?)(?=[.;]\s|[.;]?$|,\s*\w+(?: \w+)?\s*[:=])",
        re.I,
    )
    for row in table:
        said = [cell for cell in row if cell]
        found = pattern.search(said[0]) if len(said) == 1 else None
        if found:
            first = words.FIRST.search(plain(name)) is not None
            return read_interval(found[1], first=first or None)
    return None


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
    known = [at for at in pure if plain(columns[at].heading).strip(" .:*") in words.TASK_HEADINGS]
    task = (items or known or pure or acts or candidates)[0]
    if not items and not pure and len(acts) == 1:
        task = acts[0]
    elif not items and candidates[0] < task and columns[candidates[0]].heading == "":
        task = candidates[0]
    act = next((at for at in acts if at != task), None)
    if act is None and items and pure and pure[0] > task:
        act = pure[0]
    for at in named:
        if at == task:
            columns[at] = replace(columns[at], kind=TASK)
        elif at == act:
            columns[at] = replace(columns[at], kind=ACT)
        elif columns[at].heading and at in worded and _holds_words(columns[at], at, below):
            columns[at] = replace(columns[at], kind=SPEC)
        else:
            columns[at] = replace(columns[at], kind=UNREAD)


def _holds_words(column: Column, at: int, below: Cells) -> bool:
    """Whether a column only holds words: by its heading, or by cells too long for a mark."""
    cells = [row[at] for row in below if at < len(row) and row[at]]
    known = (
        plain(column.heading).strip(" .:*") in words.TASK_HEADINGS | words.ITEM_HEADINGS | words.ACT_HEADINGS
    )
    return known or sum(len(cell) >= LONG_ENOUGH for cell in cells) * 2 > len(cells)


def _refuse(columns: Sequence[Column], below: Cells, row: int, layout: Layout) -> None:
    """Say of each column that can't be read what is wrong with it."""
    task = next((at for at, column in enumerate(columns) if column.kind == TASK), None)
    for at, column in enumerate(columns):
        cells = [each[at] for each in below if at < len(each) and each[at]]
        numbered = plain(column.heading).strip(" .") in words.NUMBER_HEADINGS or (
            cells and all(re.fullmatch(r"[\dA-Z]{0,2}\d+(?:\.\d+)*\.?", cell) for cell in cells)
        )
        if column.kind != UNREAD or at == task or numbered or not (column.heading or cells):
            continue
        if not column.heading and all(len(cell) > 2 and not _is_mark(cell) for cell in cells):
            continue
        sentence = _("the heading is missing")
        if column.heading:
            sentence = _(
                "“{cell}” is not an interval. Write “first 50 h”, “every 100 h”, “1 year”, “page” or “note”."
            ).format(cell=column.heading)
        layout.faults.append(Fault(row, at + 1, sentence))
    if layout.faults:
        return
    if not any(column.kind in TIMED for column in columns):
        sentence = _("no column is an interval. Add a heading like “every 100 h” or “1 year”.")
        layout.faults.append(Fault(row, 1, sentence))
    if task is None:
        sentence = _("no column has the tasks. Give it the heading “Task”.")
        layout.faults.append(Fault(row, 1, sentence))


def _part_rows(table: list[list[str]], layout: Layout) -> None:
    """Part the rows below the headings into sections, tasks, footnotes, the legend and other words."""
    named = _named(table)
    marked = [at for at, column in enumerate(layout.columns) if column.is_interval]
    used = used_in([row[at] for row in table[layout.body :] for at in marked if at < len(row)])
    section: tuple[int, str, Said] | None = None
    part, last_note = "", ""
    for number, row in enumerate(table):
        said = [cell for cell in row if cell]
        joined = " ".join(said)
        if not said:
            last_note = ""
            continue
        if signs := _legend(said, row, layout, used):
            layout.signs |= signs
            layout.headings = [each for each in layout.headings if each[0] != number + 1]
            continue
        if number < layout.body:
            continue
        if (key := _footnote(said, row, layout, named)) is not None:
            reference, text = key
            layout.notes[reference] = text
            layout.note_rows[reference] = number + 1
            last_note = reference
            continue
        _notes_beside(number, row, layout, named)
        if alone_said := _inline(row):
            section_said, rest = alone_said
            section, part, last_note = (number + 1, said[0], section_said), "", ""
            row[next(at for at, cell in enumerate(row) if cell)] = rest
        elif section_said := _section(row):
            section, part, last_note = (number + 1, said[0], section_said), "", ""
            continue
        alone = len(said) == 1
        if alone and last_note and said[0][:1].islower() and not layout.is_list:
            layout.notes[last_note] += " " + said[0]  # a footnote that was wrapped
            continue
        if alone and layout.rows and said[0][:1].islower() and row[layout.at(TASK)] == said[0]:
            if layout.rows[-1] == number - 1:  # a task's words that went on in the next row
                table[number - 1][layout.at(TASK)] += " " + said[0]
                continue
        if alone and layout.is_list and section is None:
            layout.headings.append((number + 1, said[0]))
            continue
        if alone and len(said[0]) <= 60 and any(row[: layout.at(TASK)]) and not layout.is_list:
            part = said[0]
            layout.headings.append((number + 1, part))
            continue
        if (
            alone
            and not layout.is_list
            and (row[layout.at(TASK)] != said[0] or _is_remark(said[0], number, table))
        ):
            if _is_packages(said[0], layout):
                continue
            if not _has_marks(row, layout):
                layout.words.append((number + 1, said[0]))
                continue
        layout.rows.append(number)
        if section:
            layout.sections[number] = section
        if alone and not layout.is_list and not section:
            part = joined
        elif part:
            layout.parts[number] = part


def _is_remark(said: str, number: int, table: Cells) -> bool:
    """Whether a row of words is a remark and no section's title: long, a sentence, or with no task below."""
    below = any(sum(map(bool, row)) > 1 for row in table[number + 1 :])
    hard = any(pattern.search(plain(said)) for pattern in words.CONDITIONS.values())
    return len(said) > 60 or said.endswith(".") or hard or not (below or words.acts_of(said))


def _legend(
    said: Sequence[str], row: Sequence[str], layout: Layout, used: Mapping[str, int]
) -> dict[str, Sign]:
    """What a row explains of the signs: a legend in one cell or in several, and no row of marks."""
    if _has_marks(row, layout) and any(_is_mark(cell) or len(cell) <= 3 for cell in said[1:]):
        return {}
    signs = legend(" | ".join(said), used)
    return signs if len(signs) > 1 or not _has_marks(row, layout) else {}


def _has_marks(row: Sequence[str], layout: Layout) -> bool:
    return any(cell for cell, column in zip(row, layout.columns, strict=False) if column.is_interval)


def _is_packages(said: str, layout: Layout) -> bool:
    """Whether a sentence only says what the columns' packages are, which the columns say already."""
    return any(
        column.said and column.heading and re.search(rf"\b{re.escape(column.heading)}\b[^.;=:]*[:=]", said)
        for column in layout.columns
    )


def _named(table: Cells) -> set[str]:
    """Every reference to a footnote in the table."""
    found = {reference for row in table for cell in row for reference in references(cell)}
    found |= {match[1] for row in table for cell in row if (match := NAMED_NOTE.match(cell))}
    return found


def _footnote(
    said: Sequence[str], row: Sequence[str], layout: Layout, named: set[str]
) -> tuple[str, str] | None:
    """A row that is a footnote: its reference and its words."""
    if len(said) > 2:
        return None
    found = FOOTNOTE.fullmatch(" ".join(said))
    if not found or not found[5] or NAMED_NOTE.match(" ".join(said)):
        return None
    key = next(group for group in found.groups()[:4] if group).translate(RAISED).lower()
    if _has_marks(row, layout) and not FOOTNOTE.fullmatch(said[0] + " "):
        return None
    if layout.is_list and found[4] and key not in named:
        return None  # "1. Change oil" in a list
    if layout.is_list and key == "*" and key not in named:
        return None
    return key, found[5].strip()


def _notes_beside(number: int, row: Sequence[str], layout: Layout, named: set[str]) -> None:
    """Take footnotes that stand in a box beside the table, on rows they have nothing to do with."""
    for cell, column in zip(row, layout.columns, strict=False):
        if column.kind not in (NOTE, UNREAD, SPEC) or not cell:
            continue
        found = FOOTNOTE.fullmatch(cell)
        if not found or not found[5] or NAMED_NOTE.match(cell):
            continue
        key = next(group for group in found.groups()[:4] if group).translate(RAISED).lower()
        if key in named and not (found[4] and found[5][:1].isdigit()):
            layout.notes[key] = found[5].strip()
            layout.note_rows[key] = number + 1


def without_references(cell: str, notes: Mapping[str, str]) -> tuple[str, list[str], list[str]]:
    """Return words without the references at their end, those that name a footnote, those that name none.

    A number in brackets that names no footnote stays: `Tyres (2)`.
    """
    taken: list[str] = []
    lost: list[str] = []
    while True:
        found = next((each for each in REFERENCE.finditer(cell) if each.end() == len(cell)), None)
        if found is None or not found.start():
            return cell, taken, lost
        named = split(found)
        if not all(reference in notes for reference in named):
            return cell, taken, named if found[2] or notes else []
        taken, cell = named + taken, cell[: found.start()].rstrip()
