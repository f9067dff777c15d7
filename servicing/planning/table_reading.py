"""What one row of a maker's table means: its tasks, and each point at which it could mean something else."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import combinations
from zlib import crc32

from servicing.planning import table_life as life
from servicing.planning import table_words as words
from servicing.planning.intervals import NORMAL
from servicing.planning.language import gettext as _
from servicing.planning.table_grid import LEAVE_OUT, Choice, Fault, GridTask, Question, answered
from servicing.planning.table_headings import ACT, HARD, NOTE, OCCASION, PAGE, SPEC, TASK, TEXT, WHEN, Column
from servicing.planning.table_intervals import Said, read_interval, why
from servicing.planning.table_layout import BULLET, NAMED_NOTE, Layout, without_references
from servicing.planning.table_marks import Marked
from servicing.planning.table_signs import (
    EACH,
    FIRST,
    FIRST_ONLY,
    GUESSES,
    NOTHING,
    REPEATED,
    SOLID,
    SYMBOLS,
    Sign,
    bare_of,
    references,
    signs_in,
)
from servicing.planning.table_signs import WHEN as WHEN_SIGN
from servicing.planning.table_words import act_of, acts_of, plain

LONGEST_TITLE, LONGEST_PAGE, LONGEST_WHEN = 160, 20, 200
IN_PAGE = re.compile(
    r"\s*[(\[]?\b(?:see |siehe |voir |ver |vedi |zie )?(?:pages?|pp?\.|s\.|seite|pág(?:ina|\.)|pag(?:ina|\.)|blz\.?)"
    r"\s*([A-Z]{0,2}[-–.]?\d[\w.–-]*)\s*[)\]]?\s*$",
    re.I,
)
LINES, LOST, MOST_WAYS = " | ", " ?", 20
SEGMENT = re.compile(r"[(\[]([^)\]]*)[)\]]|(?:,|;|\s[–-])\s+((?:\d,\d|[^,;()])+)")


@dataclass(slots=True)
class Table:
    """What all rows share. signs: how often each sign stands in the table. life: the hours of a life table.

    settled: it was drawn by the house from tasks, so that their words were read before.
    """

    layout: Layout
    signs: Mapping[str, int]
    life: tuple[Decimal, ...] = ()
    life_shown: bool = False
    only_circles: bool = False
    circles_first: bool = False
    settled: bool = False


@dataclass(slots=True)
class _Part:
    """One act of a row, with its marks; life: dots in a life table; because: the columns of the marks."""

    marks: list[Marked] = field(default_factory=list)
    dots: list[Decimal] = field(default_factory=list)
    when: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    replaces: bool = False
    remarks: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Row:
    """A row being read with certain answers; where one is missing it is noted and the likeliest taken."""

    number: int
    cells: Sequence[str]
    answers: Mapping[str, str]
    carried: str = ""
    above: str = ""
    asked: list[tuple[str, int, str, str, list[str]]] = field(default_factory=list)
    faults: list[tuple[int, str]] = field(default_factory=list)
    title: str = ""
    heading_at: int = 0

    @property
    def digest(self) -> str:
        """A short sum of the words, by which an answer knows that they are still the same."""
        return f"{crc32('|'.join(self.cells).encode()):08x}"

    def ask(self, at: int, sentence: str, signature: str, codes: list[str]) -> str:
        """Return which of these codes holds, the first where nobody said; at: the column from 0."""
        for place, _at, _said, earlier, _codes in self.asked:
            if earlier == signature:
                code = answered(self.answers, place, self.digest)
                return code if code in codes else codes[0]
        taken = {place for place, *_rest in self.asked}
        place = next(
            place
            for letter in ("", *"bcdefghijklmnop")
            if (place := f"{self.number + 1}.{at + 1}{letter}") not in taken
        )
        self.asked.append((place, at, sentence, signature, codes))
        code = answered(self.answers, place, self.digest)
        return code if code in codes else codes[0]


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
    if (several := _several(row, task_at, table)) is not None:
        return several, ""
    row.cells = _found_again(row, layout)
    title, page, words_kept, named, act = _words(row, layout, table.settled)
    named += references(layout.parts.get(row.number, ""))
    row.title = title
    if len(title) > LONGEST_TITLE:
        row.faults.append((task_at, _("a task has at most {most} characters").format(most=LONGEST_TITLE)))
    parts: dict[str, _Part] = {}
    for at, (cell, column) in enumerate(zip(row.cells, layout.columns, strict=False)):
        if not cell or plain(cell) in NOTHING:
            continue
        if column.is_interval or column.kind == WHEN:
            named += _marked(row, at, cell, column, table, parts)
        elif column.kind == TEXT:
            named += _text(row, at, cell, column, layout, parts)
        elif column.kind == OCCASION:
            parts.setdefault("", _Part()).when.append(cell)
    has_own = any(part.marks or part.dots or part.when for part in parts.values())
    in_title = [] if table.settled else _said_in_title(title, layout)
    if not has_own and not row.faults and (section := layout.sections.get(row.number)):
        _from_section(row, section, parts)
    marked = any(part.marks or part.dots or part.when for part in parts.values())
    if not title and (marked or row.faults):
        row.faults.append((task_at, _("the task has no name; write one")))
    if not marked and not row.faults:
        if title and (page or words_kept) and not in_title:
            at = next(
                (at for at, each in enumerate(layout.columns) if each.is_interval or each.kind == TEXT), 0
            )
            row.faults.append((at, _("the task has no mark; write x where due")))
        elif title and not in_title:
            if not _from_above(row, task_at, title, table, parts):
                return [], title
        elif title:
            parts.setdefault("", _Part())
    if row.faults or not title:
        return [], ""
    _life(row, table, parts)
    _title_against_marks(row, task_at, title, in_title, parts)
    notes = [layout.notes[reference] for reference in dict.fromkeys(named) if reference in layout.notes]
    if not table.settled:
        _conditions(row, layout, [*words_kept, *notes], f"{title} {act}", parts)
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


def _from_above(row: Row, at: int, title: str, table: Table, parts: dict[str, _Part]) -> bool:
    """Whether a task without an interval of its own has the one above it, as in cells that were merged."""
    layout = table.layout
    text = layout.at(TEXT) if any(column.kind == TEXT for column in layout.columns) else None
    if text is not None and text < at and row.above:
        _text(row, text, row.above, layout.columns[text], layout, parts)
        return True
    if table.settled or not acts_of(title) or len(title.split()) < 2 or title.isupper():
        return False
    codes = ["title", "above"] if text is not None and row.above else ["title"]
    sentence = _("Nothing is marked. Is it the title of a section, or is a mark missing?")
    if row.ask(at, sentence, f"title:{row.number}", codes) == "above" and text is not None:
        _text(row, text, row.above, layout.columns[text], layout, parts)
        return True
    return False


def _several(row: Row, at: int, table: Table) -> list[GridTask] | None:
    """The tasks of a cell that holds one a line; None: it holds one."""
    cell = row.cells[at] if at < len(row.cells) else ""
    if LINES not in cell:
        return None
    sentence = _("The cell has several lines. Is each a task?")
    if row.ask(at, sentence, "lines", ["several", "one"]) == "one":
        row.cells = [*row.cells[:at], cell.replace(LINES, " "), *row.cells[at + 1 :]]
        return None
    cells, found = row.cells, []
    for line in cell.split(LINES):
        row.cells = [*cells[:at], line, *cells[at + 1 :]]
        made, heading = _tasks(row, table)
        found += made
        if heading:
            row.faults.append((at, _("the task has no mark; write x where due")))
    row.cells = cells
    return found


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
    said = [
        mark for _text, each in _said_in_title(_title_of(row, layout), layout) for mark in each.first.marks
    ]
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


def _words(row: Row, layout: Layout, settled: bool) -> tuple[str, str, list[str], list[str], str]:
    """Return title, page, words to keep, footnotes named, and the act that a column of its own says."""
    title, page, kept, named, act = "", "", [], [], ""
    has_act = any(column.kind == ACT for column in layout.columns)
    for at, (cell, column) in enumerate(zip(row.cells, layout.columns, strict=False)):
        if column.kind == TASK:
            bare = BULLET.sub("", cell) if layout.is_list else cell
            title, references_here, lost = without_references(bare, layout.notes)
            named += references_here
            if match := IN_PAGE.search(title):
                page, title = page or match[1], title[: match.start()].strip()
                title, more, lost = without_references(title, layout.notes)
                named += more
            if lost and title and not settled:
                sentence = _("It refers to note {reference}, which is not in the table. What does it say?")
                row.ask(at, sentence.format(reference=", ".join(lost)), f"note:{','.join(lost)}", ["name"])
            if not cell and has_act and row.carried:
                title = row.carried
            elif title and has_act:
                row.carried = title
        elif column.kind == ACT and cell:
            act, references_here, _lost = without_references(cell, layout.notes)
            named += references_here
        elif column.kind == PAGE and cell:
            page = cell
            if len(cell) > LONGEST_PAGE:
                row.faults.append((at, _("a page has at most {most} characters").format(most=LONGEST_PAGE)))
        elif column.kind in (NOTE, SPEC) and cell:
            if layout.note_rows and _is_beside(cell, row, layout):
                continue
            words_here, references_here = _note(cell, layout)
            named += references_here
            if (match := IN_PAGE.fullmatch(words_here)) and not page:
                page = match[1]
            elif words_here:
                kept.append(
                    words_here if column.kind == NOTE else f"{column.heading.rstrip(':')}: {words_here}"
                )
    if layout.columns and not any(column.kind == TASK for column in layout.columns):
        title = ""
    for column, cell in zip(layout.columns, row.cells, strict=False):
        for reference in references(column.heading):
            if reference in layout.notes and cell and plain(cell) not in NOTHING:
                named.append(reference)
    return title, page, kept, named, act


def _is_beside(cell: str, row: Row, layout: Layout) -> bool:
    """Whether a cell is a footnote of other rows that stands beside the table."""
    return any(
        at == row.number + 1 and cell.endswith(layout.notes[key]) and cell != layout.notes[key]
        for key, at in layout.note_rows.items()
    )


def _note(cell: str, layout: Layout) -> tuple[str, list[str]]:
    """The words of a note's cell, or the footnotes it only names."""
    if match := NAMED_NOTE.match(cell):
        return ("", [match[1]]) if match[1] in layout.notes else (cell, [])
    named = references(cell)
    if named and all(reference in layout.notes for reference in named):
        bare = bare_of(cell)
        return bare, named
    lower = cell.lower().strip("()[]. ")
    if lower in layout.notes:
        return "", [lower]
    parts = [each for each in re.split(r"[\s,;)]+", lower) if each]
    if parts and all(each in layout.notes for each in parts):
        return "", parts
    return cell, []


def _marked(row: Row, at: int, cell: str, column: Column, table: Table, parts: dict[str, _Part]) -> list[str]:
    """Put a cell under an interval into the parts of its row; return the footnotes it names."""
    layout = table.layout
    named = references(cell)
    for reference in named:
        if reference not in layout.notes:
            lost = _("“{cell}” refers to note {reference}, which is not below the table")
            row.faults.append((at, lost.format(cell=cell, reference=reference)))
    bare = bare_of(cell)
    for sign in signs_in(bare, layout.signs) if bare else ["x"] if named else []:
        meant = _sign(row, at, sign, cell, column, table)
        if meant is None:
            unread = _(
                "“{cell}” is not a mark. Write x where it is due each time, o for the first time only."
            )
            row.faults.append((at, unread.format(cell=cell)))
            break
        part = parts.setdefault(meant.words if meant.kind not in (EACH, FIRST, WHEN_SIGN) else "", _Part())
        part.replaces = part.replaces or act_of(meant.words) == "replace"
        if meant.kind == WHEN_SIGN:
            part.when.append(meant.words)
            continue
        if column.kind == WHEN:
            part.when.append(column.heading)
            continue
        first = meant.kind == FIRST or _first_by_note(row, at, named, column, layout)
        for mark in _of_column(row, at, column):
            if table.life and mark.hours in table.life and not mark.first and not first and not mark.months:
                part.dots.append(mark.hours)
            else:
                part.marks.append(replace(mark, first=column.first or mark.first or first))
    return [reference for reference in named if reference in layout.notes]


def _first_by_note(row: Row, at: int, named: Sequence[str], column: Column, layout: Layout) -> bool:
    """Whether a footnote of a mark says that it is for the first time only: `* first 50 h only`."""
    for note in (layout.notes[reference] for reference in named if reference in layout.notes):
        bare = plain(note)
        if not (words.FIRST.search(bare) or words.ONCE.search(bare)):
            continue
        said = read_interval(note, acts=True)
        marks = said.first.marks if said and not said.doubt else ()
        if marks and all(mark.first and mark.hours == column.hours for mark in marks):
            return True
        if not marks and words.says_only_first(note):
            return True
        if marks and not all(mark.first for mark in marks):
            continue
        sentence = _("“{note}”: is this mark for the first time only?").format(note=note)
        if row.ask(at, sentence, f"first:{bare}", ["first", "each"]) == "first":
            return True
    return False


def _of_column(row: Row, at: int, column: Column) -> tuple[Marked, ...]:
    """The marks of a column; where its heading isn't certain a person says which."""
    if column.said is None:
        return (Marked(column.hours, column.months, column.first, column.condition),)
    timed = [reading for reading in column.said.readings if reading.marks]
    if not column.said.doubt:
        return timed[0].marks
    sentence = _("“{heading}” over it: {why}").format(heading=column.heading, why=why(column.said.doubt))
    codes = [str(number) for number in range(1, len(timed) + 1)]
    code = row.ask(at, sentence, f"heading:{plain(column.heading)}", codes)
    return timed[int(code) - 1].marks


def _sign(row: Row, at: int, sign: str, cell: str, column: Column, table: Table) -> Sign | None:
    """What a sign means: by the legend, by custom, or as a person says."""
    layout = table.layout
    if sign in layout.signs:
        return layout.signs[sign]
    if layout.signs and any(
        sign in REPEATED | FIRST_ONLY and known in REPEATED | FIRST_ONLY for known in layout.signs
    ):
        return _unexplained(row, at, sign)
    if sign in SOLID and len(SOLID & set(table.signs)) > 1:
        return _unexplained(row, at, sign)
    if sign in REPEATED:
        return Sign(EACH)
    if sign in FIRST_ONLY:
        return _circle(row, at, sign, column, table)
    if _is_act(sign):
        return Sign("act", sign)
    if sign in SYMBOLS:
        return _unexplained(row, at, sign)
    if re.fullmatch(r"[A-Z]{1,3}|[a-z]", sign) and (layout.signs or _is_usual(sign, table)):
        return _unexplained(row, at, sign)
    return None


def _is_act(sign: str) -> bool:
    """Whether words in a cell say what is done there: `check level`."""
    said = plain(sign)
    return (
        len(sign) > 3
        and any(pattern.match(said) for pattern in words.ACTS.values())
        and not re.search(r"\d", said)
    )


def _is_usual(sign: str, table: Table) -> bool:
    """Whether letters are this table's marks, and not a slip among crosses."""
    letters = sum(count for name, count in table.signs.items() if name.isupper() and name not in "XO")
    return letters * 2 >= sum(table.signs.values()) or table.signs.get(sign, 0) > 1


def _unexplained(row: Row, at: int, sign: str) -> Sign:
    acts = [*GUESSES.get(sign[:1], ()), *("check", "replace", "lubricate", "clean", "adjust")]
    codes = ["each", *dict.fromkeys(acts)] if sign in REPEATED else [*dict.fromkeys(acts), "each"]
    codes += ["first"] if sign in FIRST_ONLY else []
    sentence = _("No legend says what “{sign}” means.").format(sign=sign)
    code = row.ask(at, sentence, f"sign:{sign}", codes)
    return Sign(code) if code in (EACH, FIRST) else Sign("act", _act_said(code))


def _act_said(code: str) -> str:
    said = {
        "check": _("check"),
        "replace": _("replace"),
        "adjust": _("adjust"),
        "lubricate": _("lubricate"),
        "clean": _("clean"),
        "drain": _("drain"),
        "tighten": _("tighten"),
    }
    return said[code]


def _circle(row: Row, at: int, sign: str, column: Column, table: Table) -> Sign:
    """A circle that no legend explains: by a first-time column certain, else the first time or a check."""
    if column.first:
        return Sign(FIRST)
    if table.only_circles:
        return Sign(EACH)
    others = [
        bare_of(cell)
        for cell, each in zip(row.cells, table.layout.columns, strict=False)
        if each.is_interval and cell and plain(cell) not in NOTHING
    ]
    if all(other in FIRST_ONLY for other in others) and words.EVERY.search(plain(column.heading)):
        return Sign(EACH) if len(others) == 1 and sign not in "oO0" else _ask_circle(row, at, sign)
    if sign in "oO0" and table.circles_first:
        return Sign(FIRST)
    return _ask_circle(row, at, sign)


def _ask_circle(row: Row, at: int, sign: str) -> Sign:
    sentence = _("No legend says what “{sign}” means: the first time only, a check, or each time?")
    code = row.ask(at, sentence.format(sign=sign), f"circle:{sign}", ["first", "check", "each"])
    return Sign("act", _act_said("check")) if code == "check" else Sign(code)


def _text(row: Row, at: int, cell: str, column: Column, layout: Layout, parts: dict[str, _Part]) -> list[str]:
    """Put an interval in words into the parts of its row; return the footnotes it names."""
    bare, named, lost = without_references(cell, layout.notes)
    part = parts.setdefault(column.act, _Part())
    part.replaces = part.replaces or act_of(column.act) == "replace"
    if lost:
        row.ask(
            *(
                at,
                _("It refers to note {reference}, which is not in the table. What does it say?").format(
                    reference=", ".join(lost)
                ),
            ),
            *(f"note:{','.join(lost)}", ["name"]),
        )
    said = read_interval(bare, unit=column.unit, first=True if column.first else None)
    if said is None:
        code = row.ask(at, why("words"), f"words:{plain(bare)}", ["words"])
        part.when.append(bare if code else "")
        return named
    condition = column.condition
    if condition == HARD:
        sentence = _("“{heading}” over it: {why}").format(heading=column.heading, why=why("severe"))
        condition = row.ask(at, sentence, f"hard:{plain(column.heading)}", ["dust", "heavy"])
    _take(row, at, bare, said, part, condition)
    return named


def _take(row: Row, at: int, bare: str, said: Said, part: _Part, condition: str) -> None:
    codes = [str(number) for number in range(1, len(said.readings) + 1)]
    code = row.ask(at, why(said.doubt), f"text:{plain(bare)}", codes) if said.doubt else "1"
    reading = said.readings[int(code) - 1]
    for mark in reading.marks:
        part.marks.append(replace(mark, condition=condition) if mark.condition == NORMAL else mark)
    if reading.when or not reading.marks:
        part.when.append(bare)
    elif said.rest or said.keep or said.doubt or _has_condition(said):
        part.words.append(bare)


def _from_section(row: Row, section: tuple[int, str, Said], parts: dict[str, _Part]) -> None:
    _number, heading, said = section
    part = parts.setdefault("", _Part())
    codes = [str(number) for number in range(1, len(said.readings) + 1)]
    code = "1"
    if said.doubt:
        sentence = _("“{heading}” over it: {why}").format(heading=heading, why=why(said.doubt))
        code = row.ask(0, sentence, f"heading:{plain(heading)}", codes)
    reading = said.readings[int(code) - 1]
    part.marks += reading.marks
    if reading.when or not reading.marks:
        part.when.append(heading.rstrip(": "))
    elif said.keep or said.doubt:
        part.words.append(heading.rstrip(": "))


def _life(row: Row, table: Table, parts: dict[str, _Part]) -> None:
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
            sentence = _("The marks follow no even line.")
        else:
            sentence = _("Is it due once, or each time?")
        code = "1"
        if len(ways) > 1:
            shape = ",".join(f"{dot:f}" for dot in part.dots)
            code = row.ask(at, sentence, f"life:{shape}", [str(n) for n in range(1, len(ways) + 1)])
        part.marks += ways[int(code) - 1]
        first = [mark.hours for mark in ways[int(code) - 1] if mark.first and mark.hours]
        every = [mark.hours for mark in ways[int(code) - 1] if not mark.first and mark.hours]
        if first and every and len(part.dots) > 1 and (part.dots[1] % every[0]):
            said = _("Marked at {dots} h; counted on here from the multiples of {every} h.")
            dots = ", ".join(f"{dot.normalize():f}" for dot in part.dots)
            part.remarks.append(said.format(dots=dots, every=f"{every[0].normalize():f}"))


def _said_in_title(title: str, layout: Layout) -> list[tuple[str, Said]]:
    """Intervals that a task's words themselves say: `Clean air filter (every 100 h)`."""
    found = []
    for match in SEGMENT.finditer(title):
        text = match[1] or match[2] or ""
        said = read_interval(text, acts=True)
        if said and any(reading.marks for reading in said.readings):
            bare = plain(text)
            if words.EVERY.search(bare) or words.FIRST.search(bare) or _has_condition(said):
                found.append((text, said))
    return found


def _has_condition(said: Said) -> bool:
    return any(mark.condition != NORMAL for reading in said.readings for mark in reading.marks)


def _title_against_marks(
    row: Row, at: int, title: str, in_title: Sequence[tuple[str, Said]], parts: dict[str, _Part]
) -> None:
    """Where a task's words say another interval than its marks, a person decides."""
    for text, said in in_title:
        marks = said.first.marks
        if _has_condition(said):
            _one_condition(row, at, text, said, parts, "", set())
            continue
        for part in parts.values():
            own = {(mark.hours, mark.months) for mark in part.marks}
            if not part.marks and not part.when:
                part.marks += marks
            elif not {(mark.hours, mark.months) for mark in marks} <= own:
                sentence = _("Its words say “{words}”, its mark says otherwise. Which is right?")
                code = row.ask(at, sentence.format(words=text), f"against:{plain(text)}", ["mark", "words"])
                if code == "words":
                    part.marks = list(marks)


def _conditions(row: Row, layout: Layout, notes: Sequence[str], title: str, parts: dict[str, _Part]) -> None:
    """Let a note that says an interval shorten it: `in dust every 50 h`. Its words stay on the task."""
    at = layout.at(TASK)
    for note in notes:
        said = read_interval(note, acts=True)
        if said and any(reading.marks for reading in said.readings):
            _one_condition(row, at, note, said, parts, act_of(note), acts_of(title))


def _one_condition(
    row: Row, at: int, note: str, said: Said, parts: dict[str, _Part], act: str, acts: set[str]
) -> None:
    """Let a note's interval count for the acts it names; a person decides where that isn't plain."""
    meant = [part for name, part in parts.items() if act and act_of(name) == act]
    same_act = not act or not acts or act in acts
    certain = bool(meant) or (len(parts) == 1 and same_act)
    meant = meant or list(parts.values())
    marks = [mark for mark in said.first.marks]
    useful = [mark for mark in marks if any(_shortens(mark, part) for part in meant)]
    if not useful and not said.doubt:
        return
    if said.doubt and not useful:
        return
    code = "rule"
    if said.doubt or not certain or any(mark.condition == NORMAL for mark in marks):
        sentence = _("“{note}”: does it count as an interval, or stay as words?").format(note=note)
        code = row.ask(at, sentence, f"note:{plain(note)}", ["rule", "words"])
    if code == "rule":
        for part in meant:
            part.marks += [mark for mark in useful if _shortens(mark, part)]


def _shortens(mark: Marked, part: _Part) -> bool:
    """Whether a mark adds something to what is due already."""
    if mark.first and mark.condition == NORMAL:
        return not any(other.first and other.hours == mark.hours for other in part.marks)
    normal = [other for other in part.marks if not other.first and other.condition == NORMAL]
    if mark.hours is not None:
        hours = [other.hours for other in normal if other.hours is not None]
        return bool(part.marks) and (not hours or mark.hours < min(hours))
    months = [other.months for other in normal if other.months is not None]
    return bool(part.marks) and (not months or (mark.months or 0) < min(months))
