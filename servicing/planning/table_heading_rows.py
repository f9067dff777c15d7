"""Where the headings of a maker's table stand: below its title, over one row or several, above its tasks."""

import re
from collections.abc import Collection, Sequence

from servicing.planning import table_heading_words as heads
from servicing.planning import table_words as words
from servicing.planning.table_act_cells import acts_in_cell, are_act_cells
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
    UNIT_HEADING,
    WHEN,
    read_heading,
    read_kind,
    unit_of,
)
from servicing.planning.table_intervals import read_interval
from servicing.planning.table_signs import FIRST_ONLY, NOTHING, REPEATED, SYMBOLS, bare_of
from servicing.planning.table_words import MONTHS, YEARS, plain

TIMED = (INTERVAL, TEXT, WHEN, OCCASION)
Cells = Sequence[Sequence[str]]
FIGURES = re.compile(r"(?=.*\d)[\d\s.,/–-]+")
PAGES = re.compile(r"[A-Z]?\d{1,3}[-–]\d{1,3}")
HIGHEST_HEADING, MOST_HEADING_ROWS = 12, 3


def heading_rows(
    table: Cells, start: int, keys: Collection[int] = ()
) -> tuple[int, int, list[str] | None] | None:
    """Return the first and the last row of the headings, and the units over them; None: there are none.

    keys: rows that explain codes and are no headings.
    """
    best, most = None, 0
    for at in range(start, min(start + HIGHEST_HEADING, len(table))):
        row = table[at]
        if at in keys or sum(map(bool, row)) < 2 or any(is_mark(cell) for cell in row):
            continue
        below = [each for each in table[at + 1 :] if sum(map(bool, each)) > 1 and each != row]
        if _is_data(row, below) or (at > start and not below):
            continue
        score = _score(row)
        if score and score - (at - start) > most:
            best, most = at, score - (at - start)
    if best is None:
        return _grouped(table, start) or _over_acts(table, start)
    most += best - start
    first = last = best
    over = None
    if first > start and _is_group(table[first - 1], table[first]):
        over = _spread(table[first - 1])
    else:
        while first > start and last - first < MOST_HEADING_ROWS - 1 and _is_part(table[first - 1]):
            if _score(joined(table[first - 1 : last + 1])) < most:
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
        return not any(is_mark(each[intervals[0]]) for each in below)
    for at, cell in enumerate(row):
        cells = [each[at] for each in below if each[at]]
        if at and acts_in_cell(cell) and cells and are_act_cells(cells):
            return True
    for at in intervals:
        cells = [each[at] for each in below if each[at]]
        figures = sum(bool(FIGURES.fullmatch(cell)) for cell in cells)
        bare = bool(FIGURES.fullmatch(row[at]))
        if (sum(map(is_said, cells)) + figures) * 2 > len(cells) and (bare or figures < len(cells)):
            return True
    return False


def _over_acts(table: Cells, start: int) -> tuple[int, int, list[str] | None] | None:
    """The row over a column whose cells say what is done and how often."""
    for at in range(start, min(start + HIGHEST_HEADING, len(table) - 1)):
        row = table[at]
        for column, cell in enumerate(row):
            below = [
                each[column] for each in table[at + 1 :] if column < len(each) and sum(map(bool, each)) > 1
            ]
            if column and cell and row[0] and not acts_in_cell(cell) and are_act_cells(below, cell):
                return at, at, None
    return None


def is_worded(cells: Sequence[str]) -> bool:
    """Whether cells hold intervals in words."""
    return sum(map(is_said, cells)) * 2 > len(cells)


def is_said(cell: str) -> bool:
    """Whether a cell says an interval in words, certain or not; a number alone says none."""
    said = None if is_mark(cell) or re.fullmatch(r"[\d.,\s–-]+", cell) else read_interval(cell)
    return (
        said is not None
        and not (said.rest and said.doubt)
        and any(reading.marks or reading.when != "as written" for reading in said.readings)
    )


def _grouped(table: Cells, start: int) -> tuple[int, int, list[str] | None] | None:
    """Headings of bare numbers under a row that gives them their unit, or below each other."""
    if start + 1 == len(table) or not _is_group(table[start], table[start + 1]):
        return None
    if _is_data(table[start + 1], table[start + 2 :]):
        return None
    if start + 2 == len(table) and (all(table[start]) or not any(map(unit_of, table[start]))):
        return None  # "First" and "Regular" over a single task
    return start + 1, start + 1, _spread(table[start])


def _is_part(row: Sequence[str]) -> bool:
    said = [cell for cell in row if cell]
    return len(said) >= 2 and all(len(cell) <= 30 for cell in said) and not any(map(is_mark, said))


def _goes_on(table: Cells, first: int, last: int) -> bool:
    """Whether the row below the headings is their second line: words over marks, none where tasks stand."""
    row, heading = table[last + 1], joined(table[first : last + 1])
    said = [cell for cell in row if cell]
    if not said or any(map(is_mark, said)) or row[_task_at(heading)]:
        return False
    more = _score(joined(table[first : last + 2])) - _score(heading)
    return more >= (1 if len(said) == 1 else 0)


def _task_at(heading: Sequence[str]) -> int:
    for at, head in enumerate(heading):
        if plain(head).strip(" .:") in heads.TASK_HEADINGS | heads.ITEM_HEADINGS:
            return at
    return next((at for at, head in enumerate(heading) if read_heading(head).kind == TASK), 0)


def joined(rows: Cells) -> list[str]:
    own = [list(row) for row in rows]
    unit_over(own)
    columns = zip(*own, strict=True)
    return [" ".join(_with_unit(cell, cells) for cell in cells if cell) for cells in columns]


def unit_over(rows: list[list[str]]) -> list[str]:
    """Take a unit that stands over several numbers out of the headings, and return it for each of them."""
    over = [""] * len(rows[0])
    for at, cell in enumerate(rows[0]):
        ends = next((end for end in range(at + 1, len(over)) if rows[0][end]), len(over))
        below = rows[1][at:ends] if len(rows) > 1 else []
        numbers = sum(bool(re.search(r"\d", each)) for each in below)
        if cell and numbers > 1 and numbers == sum(map(bool, below)) and UNIT_HEADING.fullmatch(plain(cell)):
            over[at:ends] = [cell] * (ends - at)
            rows[0][at] = ""
    return over


def _with_unit(cell: str, column: Sequence[str]) -> str:
    """A bare number over months or years counts hours: `250` above `6 months`."""
    return (
        f"{cell} h" if cell.isdigit() and any(unit_of(each) in (MONTHS, YEARS) for each in column) else cell
    )


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
    named = sum(plain(cell).strip(" .:") in heads.TASK_HEADINGS for cell in row)
    return 0 if not intervals else 3 * intervals + others + named


def _is_group(row: Sequence[str], below: Sequence[str]) -> bool:
    """Whether a row only groups the columns under it: it holds no interval, and the row below does."""
    said = [cell for cell in row if cell]
    return (
        not any(each in cell for cell in said for each in f"={SYMBOLS}")  # a legend
        and not any(read_heading(cell).is_interval for cell in said)
        and any(unit_of(cell) or words.FIRST.search(plain(cell)) for cell in said)
        and any(read_heading(cell, unit=unit_of("hours")).is_interval for cell in below)
    )


def _spread(row: Sequence[str]) -> list[str]:
    over, last = [], ""
    for cell in row:
        last = cell or last
        over.append(last)
    return over


def is_mark(cell: str) -> bool:
    bare = bare_of(cell)
    return bare in REPEATED or bare in FIRST_ONLY - {"0"} or bare in NOTHING - {"."}
