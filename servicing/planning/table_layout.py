"""Where things stand in a maker's table: title, headings, sections, tasks, footnotes and the legend."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from servicing.planning import table_heading_words as heads
from servicing.planning import table_words as words
from servicing.planning.language import gettext as _
from servicing.planning.table_act_cells import acts_in_cell
from servicing.planning.table_column_kinds import PAGE_NAMED, columns_below
from servicing.planning.table_doubts import Said
from servicing.planning.table_grid import Fault
from servicing.planning.table_heading_rows import TIMED, Cells, heading_rows, is_mark, is_said, is_worded
from servicing.planning.table_headings import (
    ACT,
    NOTE,
    PAGE,
    SPEC,
    TASK,
    TEXT,
    UNREAD,
    Column,
)
from servicing.planning.table_keys import code_columns, keys_in
from servicing.planning.table_sections import FIGURES, inline, is_list, section_of
from servicing.planning.table_signs import (
    RAISED,
    REFERENCE,
    Sign,
    legend,
    references,
    split,
    used_in,
)
from servicing.planning.table_words import LEGEND_HEADINGS, plain

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
KEY = re.compile(r"[IVX]{1,4}|[A-Za-z]|\d{1,2}")
LINES = " | "
MOSTLY = 0.6  # the share of a column that are pages, from which the rest are running heads


@dataclass(slots=True)
class Layout:
    """The columns of a table, and what each row below its headings is.

    notes: footnotes by their reference. signs: the legend. sections: by row, the interval that stands over it
    and the words. keys: what cells of notes name alone, `II`. parts: by row, the title of the section it is
    in. words: rows that are neither task nor note. codes: what a key says of codes for intervals, key_rows
    where it stands.
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
    keys: set[str] = field(default_factory=set)
    codes: dict[str, str] = field(default_factory=dict)
    key_rows: set[int] = field(default_factory=set)

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
    keys = keys_in(table)
    coded = code_columns(table, keys)
    found = heading_rows(table, start, keys)
    if coded and not found:  # "Job", "Code", "Page"
        above = [at for at in range(min(coded.values())) if at not in keys and sum(map(bool, table[at])) > 1]
        found = (above[-1], above[-1], None) if above else None
    named = {code for key in keys.values() for code in key}
    if not found and len(named) > 1:  # marks below "A", "B", "C"
        lettered = [at for at, row in enumerate(table[:-1]) if len(named & {*row}) > 1 and at not in keys]
        found = (lettered[0], lettered[0], None) if lettered else None
    if found is None and (columns := _without_headings(table, coded)):
        layout = Layout(start, columns)
    elif found is None and is_list(table):
        layout = _list_of_sections(table)
    else:
        first, last, over = found or (start, start, None)
        columns, faults = columns_below(table, first, last, over, coded)
        titles = [
            (number + 1, " ".join(filter(None, table[number])))
            for number in range(start, first - bool(over))
            if any(table[number])
        ]
        faults += [
            Fault(number + 1, 1, _("a mark stands above the headings"))
            for number in range(start, first - bool(over))
            if _is_marked(table[number])
        ]
        layout = Layout(last + 1, columns, faults, headings=titles)
    if any(column.is_interval and column.heading in named for column in layout.columns):
        layout.key_rows = {*keys}
    if any(column.coded for column in layout.columns):
        layout.codes = {code: said for key in keys.values() for code, said in key.items()}
        layout.key_rows = {*keys}
        layout.headings = [each for each in layout.headings if each[0] - 1 not in keys]
    if not layout.faults or any(column.kind == TASK for column in layout.columns):
        _part_rows(table, layout)
    return layout


def _is_marked(row: Sequence[str]) -> bool:
    """Whether a row has a mark beside words and is no legend."""
    said = [cell for cell in row if cell]
    signs = [cell for cell in said if is_mark(cell)]
    return len(signs) > 0 and len(said) > len(signs) and not legend(" | ".join(said), signs)


def _without_headings(table: Cells, coded: Collection[int] = ()) -> list[Column]:
    """Return the columns of a table that begins with its tasks, beside them intervals in words or codes."""
    rows = [row for row in table if sum(map(bool, row)) > 1]
    if not rows or len(rows) * 2 < sum(any(row) for row in table):
        return []
    columns: list[Column] = []
    for at in range(len(rows[0])):
        cells = [row[at] for row in rows if row[at]]
        kind = NOTE
        if cells and all(PAGE_NAMED.match(cell) for cell in cells):
            kind = PAGE
        elif rows[0][at] and is_said(rows[0][at]) and is_worded(cells):
            kind = TEXT
        elif cells and all(PAGE_CELL.match(cell) for cell in cells):
            kind = PAGE if columns else UNREAD
        elif not any(column.kind == TASK for column in columns):
            kind = TASK
        columns.append(Column(TEXT, coded=True) if at in coded else Column(kind))
    return columns if {TASK, TEXT} <= {column.kind for column in columns} else []


def _list_of_sections(table: Cells) -> Layout:
    """Tasks below the intervals that are titles; beside them pages and words."""
    width = len(table[0])
    columns = [Column(TASK)]
    for at in range(1, width):
        below = [row[at] for row in table if row[at]]
        pages = sum(PAGE_CELL.match(cell) is not None for cell in below)  # a running head may stand there too
        columns.append(Column(PAGE if below and pages >= MOSTLY * len(below) else NOTE))
    body = 0
    return Layout(body, columns)


def _part_rows(table: list[list[str]], layout: Layout) -> None:
    """Part the rows below the headings into sections, tasks, footnotes, the legend and other words."""
    named = _named(table)
    notes = [at for at, column in enumerate(layout.columns) if column.kind == NOTE]
    layout.keys = {row[at] for row in table[layout.body :] for at in notes if KEY.fullmatch(row[at])}
    marked = [at for at, column in enumerate(layout.columns) if column.is_interval or column.kind == ACT]
    acts = [at for at, column in enumerate(layout.columns) if column.acts]
    body = table[layout.body :]
    letters = [act.letter for row in body for at in acts for act in acts_in_cell(row[at]) if act.letter]
    used = used_in([row[at] for row in body for at in marked if at < len(row)] + letters)
    section: tuple[int, str, Said] | None = None
    part, last_note = "", ""
    for number, row in enumerate(table):
        said = [cell for cell in row if cell]
        joined = " ".join(said)
        if not said:
            last_note = ""
            continue
        if number in layout.key_rows or (
            layout.key_rows and LEGEND_HEADINGS.fullmatch(plain(joined).strip(":. "))
        ):
            continue
        if signs := _legend(said, row, layout, used):
            layout.signs |= signs
            if not re.search(r"\.\s+[A-Z]", joined):
                layout.headings = [each for each in layout.headings if each[0] != number + 1]
            continue
        if number < layout.body:
            if number == layout.body - 1:
                _notes_beside(number, row, layout, named)
            continue
        if len(said) > 1 and row in table[max(layout.body - 3, 0) : layout.body]:
            layout.headings.append((number + 1, joined))  # the headings again, on the next page
            continue
        if (key := _footnote(said, row, layout, named)) is not None:
            reference, text = key
            layout.notes[reference] = text
            layout.note_rows[reference] = number + 1
            last_note = reference
            continue
        if len(said) == 2 and any(
            each.said and each.heading == said[0].rstrip(":= ") for each in layout.columns
        ):
            continue  # what a column is, which it says already
        _notes_beside(number, row, layout, named)
        if len(said) == 1 and plain(said[0].partition(":")[0]) in heads.NOTE_HEADINGS and ": " in said[0]:
            layout.words.append((number + 1, said[0]))
            continue
        if begun := inline(row):
            inline_said, rest = begun
            section, part, last_note = (number + 1, said[0], inline_said), "", ""
            row[next(at for at, cell in enumerate(row) if cell)] = rest
        elif len(said) == 1 and FIGURES.fullmatch(said[0]) and not layout.is_list:
            layout.headings.append((number + 1, said[0]))  # a page's number between the rows
            continue
        elif (section_said := section_of(row)) and not _is_last(section_said, number, table):
            section, part, last_note = (number + 1, said[0], section_said), "", ""
            continue
        alone = len(said) == 1
        if alone and last_note and said[0][:1].islower() and not layout.is_list:
            layout.notes[last_note] = words.together(
                layout.notes[last_note], said[0]
            )  # a footnote that was wrapped
            continue
        goes_on = alone and said[0][:1].islower() and row[layout.at(TASK)] == said[0]
        if goes_on and layout.rows and layout.rows[-1] == number - 1:  # a task's words, wrapped
            at = layout.at(TASK)
            before = table[number - 1][at]
            if not (layout.is_list and before[:1].islower()):
                table[number - 1][at] = _gone_on(before, said[0], layout.is_list)
                continue
        works = len(said[0].split()) > 1 and bool(words.acts_of(said[0]))
        if layout.is_list and (PAGE_CELL.match(said[0]) or (section is None and not (works and number))):
            layout.headings.append((number + 1, joined))  # a title, or the foot of a page
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


def _gone_on(before: str, after: str, is_list: bool) -> str:
    """A task and the line below it; two lines where a list's second begins with an act of its own."""
    last = plain(before.split()[-1])
    act = any(pattern.match(plain(after)) for pattern in words.ACTS.values())
    if is_list and act and before[-1:].isalnum() and not words.OR.fullmatch(last):
        return f"{before}{LINES}{after}"
    return words.together(before, after)


def _is_last(said: Said, number: int, table: Cells) -> bool:
    """Whether a line that may be a title has no task below it, so that it is one: `Filter (first 50 h)`."""
    below = next((row for row in table[number + 1 :] if any(row)), None)
    return bool(said.rest and said.doubt) and (below is None or section_of(below) is not None)


def _is_remark(said: str, number: int, table: Cells) -> bool:
    """Whether a row of words is a remark and no section's title: long, a sentence, or with no task below."""
    below = any(sum(map(bool, row)) > 1 for row in table[number + 1 :])
    hard = any(pattern.search(plain(said)) for pattern in words.CONDITIONS.values())
    return len(said) > 60 or said.endswith(".") or hard or not (below or words.acts_of(said))


def _legend(
    said: Sequence[str], row: Sequence[str], layout: Layout, used: Mapping[str, int]
) -> dict[str, Sign]:
    """What a row explains of the signs: a legend in one cell or in several, and no row of marks."""
    if _has_marks(row, layout) and any(is_mark(cell) or len(cell) <= 3 for cell in said[1:]):
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
    key, _blank, text = " ".join(said).partition(" ")
    if key.strip(".:)") in layout.keys and len(text.split()) > 1 and row[layout.at(TASK)] in (said[0], ""):
        return key.strip(".:)").lower(), text.strip()
    found = FOOTNOTE.fullmatch(" ".join(said))
    if not found or not found[5] or NAMED_NOTE.match(" ".join(said)):
        return None
    key = next(group for group in found.groups()[:4] if group).translate(RAISED).lower()
    if _has_marks(row, layout) and not FOOTNOTE.fullmatch(said[0] + " "):
        return None
    own = FOOTNOTE.fullmatch(said[0])
    if len(said) == 2 and own and own[5] and _has_marks(row, layout):
        return None  # "1. Change oil" beside its mark
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
        if key in named and cell != column.heading and not (found[4] and found[5][:1].isdigit()):
            layout.notes[key] = found[5].strip()
            layout.note_rows[key] = number + 1


def without_references(cell: str, notes: Mapping[str, str]) -> tuple[str, list[str], list[str]]:
    """Return words without the references at their end, those that name a footnote, those that name none.

    A number in brackets that names no footnote stays: `Tyres (2)`.
    """
    taken: list[str] = []
    lost: list[str] = []
    while references(cell):
        found = next((each for each in REFERENCE.finditer(cell) if each.end() == len(cell)), None)
        if found is None or not found.start():
            return cell, taken, lost
        named = split(found)
        if not all(reference in notes for reference in named):
            return cell, taken, named if found[2] or notes else []
        taken, cell = named + taken, cell[: found.start()].rstrip()
    return cell, taken, lost
