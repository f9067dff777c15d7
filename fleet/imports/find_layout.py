"""Tells how a table lies in its file from its first rows: where its headings are, and what stands across."""

import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from datetime import date, datetime
from itertools import islice, pairwise

from fleet.imports.columns import FULL, Column, columns, day_kind, is_day, is_number
from fleet.imports.fleet import Fleet
from fleet.imports.headings import (
    DAY,
    HOURS,
    MACHINE,
    METER,
    OTHER_DAY,
    READ_DAY,
    is_total,
    kinds,
    look_alike,
    normal,
)
from fleet.imports.layout import LOOKED_AT, Layout, ordinary, section
from fleet.imports.table import SAMPLE, Cell, FileRow, Table, as_text

MOST_SHEETS_LOOKED_AT = 60
ROWS_OF_A_SHEET = 60
NEEDED = {MACHINE, DAY, HOURS, METER}
FULL_DATE = re.compile(
    r"\d{4}-\d{1,2}-\d{1,2}|\d{1,2}[./-] ?\d{1,2}[./-] ?\d{2,4}|\d{1,2}\.? [^\W\d_]{3,12}\.? \d{4}"
)
MONTH_OF_YEAR = re.compile(r"([^\W\d_]{3,12}\.?)[ '/-]+(\d{2})")


def find_layout(table: Table, fleet: Fleet) -> Layout:
    """Tell how a table lies in its file."""
    rows, several = table.sample, False
    if len(table.titles) > 1:
        by_sheet = _by_sheet(table)
        several = len(by_sheet) > 1
        if several:
            rows = _main_sheet(by_sheet, fleet)
    found = _of_rows(rows, fleet)
    titled = bool(table.titles) and not _names_machines(found, rows, fleet) and _some_titles(table, fleet)
    if titled:
        found = _changed(found, titles=True, machine="", sections=False)
    if several:
        found = _changed(found, sheets=True)
    return found


def sample_of(table: Table, layout: Layout) -> list[FileRow]:
    """The first ordinary rows of a table, its headings first where it has any. Raises FleetError."""
    return table.sample if layout.is_plain else list(islice(ordinary(table, layout), SAMPLE))


def _changed(layout: Layout, **changes: object) -> Layout:
    return Layout.kept(layout.to_keep() | changes)


def _by_sheet(table: Table) -> dict[str, list[FileRow]]:
    found: dict[str, list[FileRow]] = {}
    for sheet, row in table.rows_of_sheets():
        rows = found.setdefault(sheet, [])
        if len(rows) < ROWS_OF_A_SHEET:
            rows.append(row)
        if len(found) > MOST_SHEETS_LOOKED_AT:
            break
    return found


def _main_sheet(by_sheet: dict[str, list[FileRow]], fleet: Fleet) -> list[FileRow]:
    """The rows of the first sheet whose headings are those that most sheets have."""
    heads: dict[str, list[str]] = defaultdict(list)
    for sheet, rows in by_sheet.items():
        at = heading_at(rows, fleet)
        if at is not None:
            heads["|".join(normal(as_text(cell)) for cell in rows[at].cells).strip("|")].append(sheet)
    if not heads:
        return next(iter(by_sheet.values()))
    return by_sheet[max(heads.values(), key=len)[0]]


def _some_titles(table: Table, fleet: Fleet) -> bool:
    return any(fleet.find(title) is not None for title in table.titles)


def _names_machines(layout: Layout, rows: Sequence[FileRow], fleet: Fleet) -> bool:
    if layout.across == MACHINE or layout.sections:
        return True
    body = rows[layout.skip :]
    return machine_column(columns(body, heading=bool(layout.names)), fleet) is not None


def _of_rows(rows: Sequence[FileRow], fleet: Fleet) -> Layout:
    at = heading_at(rows, fleet)
    skip = at if at is not None else _titles_above(rows)
    table = rows[skip:]
    heading = at is not None
    width = max((len(row.cells) for row in table), default=0)
    names = [as_text(cell) for cell in table[0].cells] if heading else []
    while names and not names[-1]:
        names.pop()
    layout = Layout(names=tuple(names), line=table[0].line if table else 1, skip=skip, width=width)
    full = [row for at, row in enumerate(table) if (heading and not at) or not _one_thing(row)]
    found = columns(full or table, heading=heading)
    changes: dict[str, object] = {}
    if heading:
        over = _labels_above(rows, skip, fleet)
        changes = _below_labels(over, width) or _across(found, table[0], fleet) or _blocks(found)
    layout = _changed(layout, **changes or _blocks_by_cells(full[heading:], width, fleet))
    above = rows[:skip]
    body = table[heading:]
    if (
        layout.across != MACHINE
        and machine_column(found, fleet) is None
        and not _repeats_machine(layout, found)
    ):
        layout = _changed(layout, **_machine_elsewhere(above, body, fleet))
    if layout.across != DAY and not any(_is_day_column(column) for column in found):
        layout = _changed(layout, day=_day_above(above))
    return layout


def heading_at(rows: Sequence[FileRow], fleet: Fleet) -> int | None:
    """Which row holds the headings, from 0; None where none does. Of two it is the lower."""
    at = _heading_at(rows, fleet)
    if at is not None and at + 1 < len(rows):
        filled = [cell for cell in rows[at + 1].cells if cell not in (None, "")]
        said = [kinds(normal(cell)) if isinstance(cell, str) else frozenset() for cell in filled]
        days, hours = (sum(role in each for each in said) for role in (DAY, HOURS))
        if days > 1 and hours > 1 and not any(map(_is_data, filled)):
            return at + 1
    return at


def _heading_at(rows: Sequence[FileRow], fleet: Fleet) -> int | None:
    for at, row in enumerate(rows[:LOOKED_AT]):
        filled = [cell for cell in row.cells if cell not in (None, "")]
        if len(filled) < 2:
            continue
        said = [kinds(normal(as_text(cell))) for cell in filled]
        labels = [cell for cell in filled if _day_over(cell) or fleet.exactly(as_text(cell))]
        numbers = [cell for cell in filled if is_number(cell) and not (is_day(cell) or _is_span(cell))]
        told = [each for each in said if each]
        useful = [each for each in said if each & NEEDED]
        if numbers and not useful:
            continue
        if len(told) >= 2 and useful and not numbers:
            return at
        if useful and len(labels) >= 1 and not numbers and not any(map(_is_clear_day, filled[:1])):
            return at
    start = _titles_above(rows)
    if start < len(rows):
        cells = [cell for cell in rows[start].cells if cell not in (None, "")]
        if not any(map(_is_data, cells)):
            return start
    return None


def machine_column(found: Sequence[Column], fleet: Fleet) -> Column | None:
    """The column that names machines: by its cells, else by its heading; None where there is none."""
    days = {column.place for column in found if column.days > 0.5}
    best = max(found, key=lambda column: (column.known(fleet), -column.place), default=None)
    named = [
        column for column in found if MACHINE in column.kinds and column.place not in days and column.cells
    ]
    if best is not None and best.known(fleet) > 0:
        for column in named:
            if column.known(fleet) >= best.known(fleet):
                return column
        return best
    return named[0] if named else None


def _is_day_column(column: Column) -> bool:
    return column.days >= 0.5 or (DAY in column.kinds and column.share(lambda cell: bool(day_kind(cell))) > 0)


def _is_data(cell: Cell) -> bool:
    return bool(day_kind(cell)) or is_number(cell)


def _is_clear_day(cell: Cell) -> bool:
    return isinstance(cell, date | datetime) or is_day(cell)


def _is_span(cell: Cell) -> bool:
    """A month or a year, or a day without a year in words."""
    return (
        isinstance(cell, str | int)
        and not isinstance(cell, bool)
        and day_kind(cell) not in ("", FULL)
        and (not is_number(cell) or re.fullmatch(r"(?:19|20)\d{2}", as_text(cell)) is not None)
    )


def _titles_above(rows: Sequence[FileRow]) -> int:
    """How many rows above the table hold one thing alone."""
    filled = [sum(cell not in (None, "") for cell in row.cells) for row in rows]
    if not filled or Counter(filled).most_common(1)[0][0] < 2:
        return 0
    return next((at for at, many in enumerate(filled) if many >= 2), 0)


def _labels_above(rows: Sequence[FileRow], at: int, fleet: Fleet) -> dict[int, str]:
    """Machines that stand in the row above the headings, each over the columns that follow it."""
    if not at:
        return {}
    named = {
        place: as_text(cell)
        for place, cell in enumerate(rows[at - 1].cells)
        if cell not in (None, "") and fleet.find(as_text(cell)) is not None
    }
    return named if len(named) > 1 else {}


def _below_labels(over: dict[int, str], width: int) -> dict[str, object]:
    """Groups of columns under the machines that stand above the headings."""
    if not over:
        return {}
    starts = [*over, width]
    groups = [list(range(start, end)) for start, end in pairwise(starts)]
    return {"groups": groups, "labels": list(over.values()), "across": MACHINE}


def _across(found: Sequence[Column], head: FileRow, fleet: Fleet) -> dict[str, object]:
    """Machines or days that stand across as headings, each over a column of hours."""
    numbers = [column for column in found if column.cells and column.numbers > 0]
    headed = [column for column in found if column.place < len(head.cells)]
    days = [column for column in headed if _day_over(head.cells[column.place]) is not None]
    if any(column in numbers for column in days) and not any(
        _is_day_column(column) for column in found if column not in days
    ):
        return _each_a_group(days, head, DAY)
    if machine_column(found, fleet) is not None:
        return {}
    machines = [c for c in found if fleet.find(c.name) is not None and not look_alike(c.head)]
    meant = [fleet.find(column.name) for column in machines]
    if not any(column in numbers for column in machines) or len(set(meant)) < len(meant):
        return {}
    strangers = [
        c
        for c in numbers
        if c not in machines and not c.kinds and re.search(r"[^\W\d_].*\d", c.name) and not is_total(c.name)
    ]
    return _each_a_group(sorted([*machines, *strangers], key=lambda c: c.place), head, MACHINE)


def _day_over(cell: Cell) -> str | None:
    """The day, month or year that a heading says its column is of, alone or in words: "Stand 30.06.2026"."""
    if cell in (None, ""):
        return None
    text = as_text(cell)
    if is_day(cell) or _is_span(cell):
        return text.removesuffix(" 00:00:00")
    dates = [match[0] for match in FULL_DATE.finditer(text) if is_day(match[0])]
    words = normal(FULL_DATE.sub("", text))
    return dates[0] if len(dates) == 1 and not look_alike(words) and not OTHER_DAY.search(words) else None


def _each_a_group(across: Sequence[Column], head: FileRow, role: str) -> dict[str, object]:
    over = [head.cells[column.place] for column in across]
    labels = [(_day_over(cell) if role == DAY else None) or as_text(cell) for cell in over]
    months = [MONTH_OF_YEAR.fullmatch(label) for label in labels]
    if len(labels) > 1 and len({month[2] for month in months if month}) == 1 and all(months):
        labels = [
            f"{month[1]} 20{month[2]}" for month in months if month
        ]  # "Jan 26", "Feb 26": one year's months
    return {"groups": [[column.place] for column in across], "labels": labels, "across": role}


def _blocks(found: Sequence[Column]) -> dict[str, object]:
    """Several readings a row: the same headings again and again, a machine's first, or a day's."""
    heads = [re.sub(r" ?\d+$", "", column.head) for column in found]
    starts = _again(heads, MACHINE)
    if not starts and any(HOURS in kinds(head) for head in heads):
        starts = _again(heads, DAY)
    if len(starts) < 2 or len({heads[start] for start in starts}) > 1:
        return {}
    ends = [*starts[1:], len(heads)]
    groups = [list(range(start, end)) for start, end in zip(starts, ends, strict=True)]
    shortest = min(map(len, groups))
    groups = [group[:shortest] for group in groups]
    like = [[heads[place] for place in group] for group in groups]
    if shortest < 2 or any(each != like[0] for each in like):
        return {}
    return {"groups": groups}


def _again(heads: Sequence[str], role: str) -> list[int]:
    """Where headings of that role stand that come more than once."""
    return [
        place for place, head in enumerate(heads) if head and role in kinds(head) and heads.count(head) > 1
    ]


def _one_thing(row: FileRow) -> bool:
    """Whether a row holds one thing alone, or names a machine and no reading."""
    return sum(cell not in (None, "") for cell in row.cells) < 2 or bool(section(row))


def _blocks_by_cells(body: Sequence[FileRow], width: int, fleet: Fleet) -> dict[str, object]:
    """Several machines a row, told by its cells: columns that name machines, and not the same one."""
    named = [[fleet.find(as_text(cell)) for cell in row.cells] for row in body[:ROWS_OF_A_SHEET]]
    starts = [
        place
        for place in range(width)
        if sum(place < len(row) and row[place] is not None for row in named) > len(named) / 2
    ]
    differ = any(len({row[place] for place in starts if place < len(row)} - {None}) > 1 for row in named)
    if len(starts) < 2 or not differ:
        return {}
    ends = [*starts[1:], width]
    shortest = min(end - start for start, end in zip(starts, ends, strict=True))
    return {"groups": [list(range(start, start + shortest)) for start in starts]} if shortest > 1 else {}


def _repeats_machine(layout: Layout, found: Sequence[Column]) -> bool:
    return bool(layout.groups) and not layout.labels


def _machine_elsewhere(above: Sequence[FileRow], body: Sequence[FileRow], fleet: Fleet) -> dict[str, object]:
    """Whether rows with one thing name the machine of those below, or the lines above the table all of it."""
    rows = [*above, *body]
    named = [name for row in rows if (name := section(row)) and fleet.named_in(name) is not None]
    alone = [name for row in body if (name := section(row)) and not is_number(name)]
    if named and alone:
        return {"sections": True}
    texts = [as_text(cell) for row in above for cell in row.cells if cell not in (None, "")]
    machines = {machine for text in texts if (machine := fleet.named_in(text)) is not None}
    return {"machine": machines.pop().tag} if len(machines) == 1 else {}


def _day_above(above: Sequence[FileRow]) -> str:
    """The day that the lines above the table say it is of; '' where they say none, or several."""
    days = set()
    for row in above:
        line = " ".join(as_text(cell) for cell in row.cells if cell not in (None, ""))
        words = normal(FULL_DATE.sub("", line))
        if READ_DAY.search(words) and not OTHER_DAY.search(words):
            days |= {match[0] for match in FULL_DATE.finditer(line) if is_day(match[0])}
    return days.pop() if len(days) == 1 else ""
