"""What one row of a maker's table means: its tasks, and each point at which it could mean something else."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from servicing.planning import table_life as life
from servicing.planning.intervals import NORMAL
from servicing.planning.language import gettext as _
from servicing.planning.table_cells import take_mark, take_section, take_text
from servicing.planning.table_conditions import said_in_title, take_conditions, title_against_marks
from servicing.planning.table_doubts import SEVERAL, why
from servicing.planning.table_grid import LEAVE_OUT, Choice, Fault, GridTask, Question, answered
from servicing.planning.table_heading_rows import TIMED
from servicing.planning.table_headings import ACT, OCCASION, TASK, TEXT, UNREAD, WHEN
from servicing.planning.table_intervals import read_interval
from servicing.planning.table_layout import Layout
from servicing.planning.table_marks import Marked
from servicing.planning.table_row import Part, Row, Table
from servicing.planning.table_row_words import words_of
from servicing.planning.table_signs import (
    NOT_DUE,
    NOTHING,
    references,
    signs_in,
)
from servicing.planning.table_words import acts_of, plain

LONGEST_TITLE, LONGEST_WHEN = 160, 200
SEMICOLON = re.compile(r";\s+(?![^(]*\))")
LINES, LOST, MOST_WAYS = " | ", " ?", 20


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a row became: tasks, faults, questions; carried: the item that stands for empty cells below it."""

    tasks: tuple[GridTask, ...]
    faults: tuple[Fault, ...]
    questions: tuple[Question, ...]
    carried: str
    is_heading: str = ""


def read_row(
    number: int, cells: Sequence[str], table: Table, carried: str, answers: Mapping[str, str], above: str = ""
) -> Outcome:
    """Return what a row means under these answers, with each question and what every answer would make.

    carried: the item of the rows above; above: the interval in words of the rows above.
    """
    row = Row(number, cells, answers, carried, above)
    tasks, heading = _tasks(row, table)
    faults = tuple(_faults(row, table))
    questions = []
    left = False
    for place, at, sentence, signature, codes in row.asked:
        given = answered(answers, place, row.digest)
        given = given if given in (*codes, LEAVE_OUT) else ""
        left = left or given == LEAVE_OUT
        choices = []
        for code in codes:
            other = Row(number, cells, {**answers, place: code}, carried, above)
            made, _heading = _tasks(other, table)
            said = _("It is the title of a section") if code == "title" else ""
            choices.append(Choice(code, tuple(made), tuple(_faults(other, table)), said))
        choices.append(Choice(LEAVE_OUT))
        questions.append(
            Question(
                *(number + 1, at + 1, place, row.digest, signature, sentence, tuple(cells), tuple(choices)),
                title=row.title,
                heading=table.layout.columns[at].heading if at < len(table.layout.columns) else "",
                answer=given,
            )
        )
    if left:
        return Outcome((), (), tuple(questions), row.carried)
    return Outcome(tuple(tasks), faults, tuple(questions), row.carried, heading)


def _faults(row: Row, table: Table) -> list[Fault]:
    columns = table.layout.columns
    return [
        Fault(row.number + 1, at + 1, sentence, row.title, columns[at].heading)
        for at, sentence in sorted(row.faults)
    ]


def _tasks(row: Row, table: Table) -> tuple[list[GridTask], str]:
    """Return the tasks of a row, or the words of one that is a section's title."""
    layout = table.layout
    task_at = layout.at(TASK)
    if not (table.settled or row.single) and (several := _several(row, task_at, table)) is not None:
        return several, ""
    if (paired := _paired(row, table)) is not None:
        return paired, ""
    row.cells = _found_again(row, layout)
    title, page, words_kept, named, act = words_of(row, layout, table.settled)
    named += references(layout.parts.get(row.number, ""))
    row.title = title
    if len(title) > LONGEST_TITLE:
        row.faults.append((task_at, _("a task has at most {most} characters").format(most=LONGEST_TITLE)))
    parts: dict[str, Part] = {}
    texts: list[tuple[int, dict[str, list[Marked]]]] = []
    for at, (cell, column) in enumerate(zip(row.cells, layout.columns, strict=False)):
        if not cell or (plain(cell) in NOTHING and not _is_due(cell, layout)):
            continue
        if column.is_interval or column.kind == WHEN:
            named += take_mark(row, at, cell, column, table, parts)
        elif column.kind == TEXT:
            before = {name: len(part.marks) for name, part in parts.items()}
            named += take_text(row, at, cell, column, layout, parts)
            texts.append((at, {name: part.marks[before.get(name, 0) :] for name, part in parts.items()}))
        elif column.kind == OCCASION:
            parts.setdefault("", Part()).when.append(cell)
    _one_of_columns(row, texts, parts)
    has_own = any(part.marks or part.dots or part.when for part in parts.values())
    in_title = [] if table.settled else said_in_title(title, layout)
    if not has_own and not row.faults and (section := layout.sections.get(row.number)):
        take_section(row, section, parts)
    marked = any(part.marks or part.dots or part.when for part in parts.values())
    if not title and (marked or row.faults):
        row.faults.append((task_at, _("the task has no name; write one")))
    if not marked and not row.faults:
        if title and not in_title and _is_due_never([*words_kept, act], row, layout):
            return [], title
        if title and (page or words_kept) and not in_title:
            if not _merged(row, task_at, layout, parts):
                timed = (
                    at for at, each in enumerate(layout.columns) if each.is_interval or each.kind == TEXT
                )
                row.faults.append((next(timed, 0), _("the task has no mark; write x where due")))
        elif title and not in_title:
            if not _from_above(row, task_at, title, table, parts):
                if not act or row.asked:
                    return [], title
                row.faults.append((task_at, _("the task has no mark; write x where due")))
        elif title:
            parts.setdefault("", Part())
    if row.faults or not title or _goes_nowhere(row, layout):
        return [], ""
    _life(row, table, parts)
    title_against_marks(row, task_at, title, in_title, parts)
    notes = [layout.notes[reference] for reference in dict.fromkeys(named) if reference in layout.notes]
    if not table.settled:
        take_conditions(row, layout, [*words_kept, *notes], f"{title} {act}", parts)
    said = [*words_kept, *(note for note in notes if note not in words_kept)]
    found = []
    for name, part in parts.items():
        full = ": ".join(filter(None, [title, act, name]))
        if part.marks or part.when:
            when = " / ".join(dict.fromkeys(part.when))
            if len(when) > LONGEST_WHEN or len(full) > LONGEST_TITLE:
                most = LONGEST_WHEN if len(when) > LONGEST_WHEN else LONGEST_TITLE
                said_so = _("“{words}…” is too long: at most {most} characters")
                row.faults.append((task_at, said_so.format(words=(when or full)[:40], most=most)))
                return [], ""
            marks = tuple(dict.fromkeys(part.marks))
            note = "\n".join([*part.words, *said])
            found.append(GridTask(row.number + 1, full, marks, page, note, when, tuple(part.remarks)))
    return found, ""


def _one_of_columns(
    row: Row, texts: list[tuple[int, dict[str, list[Marked]]]], parts: dict[str, Part]
) -> None:
    """Where two columns in words say another time of one kind, a person says which of them counts."""
    for (_earlier, ones), (at, others) in combinations(texts, 2):
        for name, marks in others.items():
            pairs = [
                (one, other)
                for one in ones.get(name, [])
                for other in marks
                if (one.first, one.condition) == (other.first, other.condition)
                and ((one.hours and other.hours) or (one.months and other.months))
                and one != other
            ]
            for one, other in pairs:
                codes = ["both", "first", "second"]
                code = row.ask(at, why(SEVERAL), f"columns:{at}", codes)
                if code != "both":
                    gone = other if code == "first" else one
                    parts[name].marks = [mark for mark in parts[name].marks if mark != gone]


def _text_at(layout: Layout) -> int | None:
    return layout.at(TEXT) if any(column.kind == TEXT for column in layout.columns) else None


def _merged(row: Row, at: int, layout: Layout, parts: dict[str, Part]) -> bool:
    """Whether an interval in words stands before the tasks, once for all rows down to the next one."""
    text = _text_at(layout)
    if text is None or text >= at or not row.above:
        return False
    take_text(row, text, row.above, layout.columns[text], layout, parts)
    return True


def _from_above(row: Row, at: int, title: str, table: Table, parts: dict[str, Part]) -> bool:
    """Whether a task without an interval of its own has the one above it, as in cells that were merged."""
    layout, text = table.layout, _text_at(table.layout)
    if _merged(row, at, layout, parts):
        return True
    if table.settled or not acts_of(title) or len(title.split()) < 2 or title.isupper():
        return False
    codes = ["title", "above"] if text is not None and row.above else ["title"]
    sentence = _("Nothing is marked. Is it the title of a section, or is a mark missing?")
    if row.ask(at, sentence, f"title:{row.number}", codes) == "above" and text is not None:
        take_text(row, text, row.above, layout.columns[text], layout, parts)
        return True
    return False


def _is_due(cell: str, layout: Layout) -> bool:
    """Whether the legend gives a dash a meaning."""
    return cell in layout.signs and layout.signs[cell].kind != NOT_DUE


def _is_due_never(kept: Sequence[str], row: Row, layout: Layout) -> bool:
    """Whether a row says itself that it is never due: `-` or `n/a` under its intervals, no other words."""
    timed = [
        cell for cell, column in zip(row.cells, layout.columns, strict=False) if column.kind in TIMED and cell
    ]
    return bool(timed) and not any(read_interval(words) for words in kept)


def _goes_nowhere(row: Row, layout: Layout) -> bool:
    """Whether something stands in a column that nobody can read, so that the rest makes no task."""
    unread = {fault.column - 1 for fault in layout.faults if layout.columns[fault.column - 1].kind == UNREAD}
    return any(row.cells[at] and plain(row.cells[at]) not in NOTHING for at in unread if at < len(row.cells))


def _several(row: Row, at: int, table: Table) -> list[GridTask] | None:
    """The tasks of a cell that holds one a line; None: it holds one."""
    cell = row.cells[at] if at < len(row.cells) else ""
    listed = _listed(cell)
    if LINES not in cell and not listed:
        return None
    sentence = _("The cell has several lines. Is each a task?")
    if listed:
        sentence = _("The cell names several tasks. Is each one of its own?")
    if row.ask(at, sentence, "lines", ["several", "one"]) == "one":
        row.cells = [*row.cells[:at], cell.replace(LINES, " "), *row.cells[at + 1 :]]
        if listed:
            row.single = True
        return None
    cells, found = row.cells, []
    for line in listed or cell.split(LINES):
        row.cells = [*cells[:at], line, *cells[at + 1 :]]
        made, heading = _tasks(row, table)
        found += made
        if heading:
            row.faults.append((at, _("the task has no mark; write x where due")))
    row.cells = cells
    return found


def _paired(row: Row, table: Table) -> list[GridTask] | None:
    """The tasks of a row with several acts and as many intervals, `C/R` and `50/500`; None: it has none."""
    columns = table.layout.columns
    at = next((at for at, column in enumerate(columns) if column.kind == ACT), None)
    if at is None or table.settled:
        return None
    acts = signs_in(row.cells[at], table.layout.signs)
    texts = [
        each
        for each, column in enumerate(columns)
        if column.kind == TEXT and row.cells[each] and plain(row.cells[each]) not in NOTHING
    ]
    parted = {each: re.split(r"\s*/\s*", row.cells[each]) for each in texts}
    if len(acts) < 2 or not texts or any(len(cells) != len(acts) for cells in parted.values()):
        return None
    sentence = _("It names several acts and as many intervals. Do they belong together in this order?")
    if row.ask(texts[0], sentence, "pairs", ["order", "all"]) == "all":
        return None
    whole, found = row.cells, []
    for number, act in enumerate(acts):
        cells = {at: act, **{each: said[number] for each, said in parted.items()}}
        row.cells = [cells.get(each, cell) for each, cell in enumerate(whole)]
        found += _tasks(row, table)[0]
    row.cells = whole
    return found


def _listed(cell: str) -> list[str]:
    """The tasks of a cell that parts them by semicolons: each has words, one at least an act."""
    listed = [each.strip() for each in SEMICOLON.split(cell)]
    works = [each for each in listed if acts_of(each)]
    return listed if works and len(listed) > 1 and all(len(each.split()) > 1 for each in listed) else []


def _found_again(row: Row, layout: Layout) -> Sequence[str]:
    """Put marks whose columns were lost in copying under a heading, as its words or a person say."""
    columns = [at for at, column in enumerate(layout.columns) if column.is_interval]
    lost = [at for at in columns if at < len(row.cells) and row.cells[at].endswith(LOST)]
    if not lost:
        return row.cells
    filled = [at for at in columns if at < len(row.cells) and row.cells[at]]
    places = (
        columns
        if lost == filled
        else sorted({near for at in lost for near in (at - 1, at, at + 1)} & {*columns})
    )
    ways = list(combinations(places, len(lost)))[:MOST_WAYS]
    said = [mark for text, each in said_in_title(_title_of(row, layout), layout) for mark in each.first.marks]
    own = [
        way for way in ways if said and all(layout.columns[at].hours in {m.hours for m in said} for at in way)
    ]
    if len(own) == 1:
        way = own[0]
    else:
        codes = ["+".join(str(at + 1) for at in way) for way in ways]
        sentence = _("Its columns were lost in copying. Under which heading does the mark stand?")
        way = ways[codes.index(row.ask(lost[0], sentence, f"lost:{row.number}", codes))]
    cells = ["" if at in lost else cell for at, cell in enumerate(row.cells)]
    for at, mark in zip(way, [row.cells[at].removesuffix(LOST).strip() for at in lost], strict=True):
        cells[at] = mark
    return cells


def _title_of(row: Row, layout: Layout) -> str:
    return row.cells[layout.at(TASK)]


def _life(row: Row, table: Table, parts: dict[str, Part]) -> None:
    """Read the dots of a life table, one act after the other; a replacement counts as its check."""
    replaced = [dot for part in parts.values() if part.replaces for dot in part.dots]
    for part in parts.values():
        if not part.dots:
            continue
        last = table.life[-1]
        ways = life.pattern(part.dots, last)
        if not ways and not part.replaces and replaced:
            ways = life.pattern([*part.dots, *(dot for dot in replaced if dot not in part.dots)], last)
        at = next(at for at, each in enumerate(table.layout.columns) if each.hours == part.dots[0])
        if not table.life_shown:
            smallest = min(part.dots)
            ways = [(Marked(hours=smallest),), *[way for way in ways if way != (Marked(hours=smallest),)]]
            ways = ways if len(ways) > 1 else [*ways, (Marked(hours=smallest, first=True),)]
            sentence = _("Do the columns run through the machine's life, or is each an interval?")
        elif not ways:
            ways = life.guesses(part.dots)
            sentence = _("The marks follow no regular interval.")
        else:
            sentence = _("Is it due once, or each time?")
        code = "1"
        if len(ways) > 1:
            shape = ",".join(f"{dot:f}" for dot in part.dots)
            code = row.ask(at, sentence, f"life:{shape}", [str(n) for n in range(1, len(ways) + 1)])
        way = _beside_words(row, at, ways[int(code) - 1], part)
        part.marks += way
        first = [mark.hours for mark in way if mark.first and mark.hours]
        every = [mark.hours for mark in way if not mark.first and mark.hours]
        if first and every and len(part.dots) > 1 and (part.dots[1] % every[0]):
            said = _("Marked at {dots} h; counted on here from the multiples of {every} h.")
            dots = ", ".join(f"{dot.normalize():f}" for dot in part.dots)
            part.remarks.append(said.format(dots=dots, every=f"{every[0].normalize():f}"))


def _beside_words(row: Row, at: int, way: tuple[Marked, ...], part: Part) -> tuple[Marked, ...]:
    """Return a reading of dots as it holds beside an interval in words; where they differ, a person says."""
    dotted = [mark for mark in way if not mark.first]
    worded = [mark for mark in part.marks if mark.hours and not mark.first and mark.condition == NORMAL]
    if not worded or not dotted or {mark.hours for mark in worded} == {mark.hours for mark in dotted}:
        return way
    said = _("The dots say every {dots} h, the words every {words} h. Which holds?")
    hours = {"dots": dotted[0].hours, "words": worded[0].hours}
    every = {name: f"{each.normalize():f}" for name, each in hours.items() if each is not None}
    if row.ask(at, said.format(**every), "dots:{dots}:{words}".format(**every), ["dots", "words"]) == "words":
        return tuple(mark for mark in way if mark.first)
    part.marks = [mark for mark in part.marks if mark not in worded]
    return way
