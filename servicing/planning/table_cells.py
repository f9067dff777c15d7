"""What one cell of a row says: a mark under an interval, an interval in words, or the section's over it."""

import re
from collections.abc import Sequence
from dataclasses import replace

from servicing.planning import table_words as words
from servicing.planning.intervals import NORMAL
from servicing.planning.language import gettext as _
from servicing.planning.table_act_cells import Act, acts_in_cell
from servicing.planning.table_conditions import has_condition
from servicing.planning.table_doubts import UNITLESS, Said, why
from servicing.planning.table_headings import HARD, WHEN, Column
from servicing.planning.table_intervals import read_interval, without_unit
from servicing.planning.table_keys import is_coded, said_by
from servicing.planning.table_layout import Layout, without_references
from servicing.planning.table_line_parts import is_who
from servicing.planning.table_marks import Marked
from servicing.planning.table_row import Part, Row, Table
from servicing.planning.table_sections import FIGURES
from servicing.planning.table_signs import (
    CROSSES,
    EACH,
    FIRST,
    FIRST_ONLY,
    GUESSES,
    NOT_DUE,
    NOTHING,
    REPEATED,
    SOLID,
    SYMBOLS,
    TICKS,
    Sign,
    bare_of,
    references,
    signs_in,
)
from servicing.planning.table_signs import WHEN as WHEN_SIGN
from servicing.planning.table_words import act_of, plain


def take_mark(
    row: Row, at: int, cell: str, column: Column, table: Table, parts: dict[str, Part]
) -> list[str]:
    """Put a cell under an interval into the parts of its row; return the footnotes it names."""
    layout = table.layout
    named = references(cell)
    for reference in named:
        if reference not in layout.notes and reference.lower() in ("x", "o") and not bare_of(cell):
            sentence = _("“{cell}” stands in brackets and no note says why. Is it due here?").format(
                cell=cell
            )
            row.ask(at, sentence, f"brackets:{reference}", ["each"])
        elif reference not in layout.notes:
            lost = _("“{cell}” refers to note {reference}, which is not below the table")
            row.faults.append((at, lost.format(cell=cell, reference=reference)))
    for reference in references(column.heading):
        if reference not in layout.notes and not reference.isalpha():
            lost = _("It refers to note {reference}, which is not in the table. What does it say?")
            row.ask(at, lost.format(reference=reference), f"note:{reference}", ["name"])
    bare = bare_of(cell)
    for sign in signs_in(bare, layout.signs) if bare else ["x"] if named else []:
        meant = _sign(row, at, sign, cell, column, table)
        if meant is not None and meant.kind == NOT_DUE:
            continue
        if meant is None:
            unread = _(
                "“{cell}” is not a mark. Write x where it is due each time, o for the first time only."
            )
            row.faults.append((at, unread.format(cell=cell)))
            break
        part = parts.setdefault(meant.words if meant.kind not in (EACH, FIRST, WHEN_SIGN) else "", Part())
        part.replaces = part.replaces or act_of(meant.words) == "replace"
        part.named += named
        if column.said and column.said.keep and column.months:  # "every spring"
            part.words = list(dict.fromkeys([*part.words, column.heading]))
        if meant.kind == WHEN_SIGN:
            part.when.append(meant.words)
            continue
        if column.kind == WHEN:
            part.when.append(column.heading)
            continue
        first = meant.kind == FIRST or _first_by_note(
            row, at, [*named, *references(column.heading)], column, layout
        )
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
        if marks and not (said and said.rest and all(mark.first for mark in marks)):
            continue  # it says another time, beside this mark
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
    if sign in CROSSES and TICKS & set(table.signs):  # done, or not due?
        return _unexplained(row, at, sign)
    if sign in REPEATED:
        return Sign(EACH)
    if sign in FIRST_ONLY:
        return _circle(row, at, sign, column, table)
    if _is_act(sign):
        return Sign("act", sign)
    if sign in SYMBOLS or (len(sign) == 1 and not sign.isalnum() and sign != "?"):
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
    each_first = sign in REPEATED or not sign.isalpha()
    codes = ["each", *dict.fromkeys(acts)] if each_first else [*dict.fromkeys(acts), "each"]
    codes += ["first"] if sign in FIRST_ONLY else []
    codes += [NOT_DUE] if sign in CROSSES else []
    sentence = _("No legend says what “{sign}” means.").format(sign=sign)
    code = row.ask(at, sentence, f"sign:{sign}", codes)
    return Sign(code) if code in (EACH, FIRST, NOT_DUE) else Sign("act", _act_said(code))


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


def take_text(
    row: Row, at: int, cell: str, column: Column, layout: Layout, parts: dict[str, Part]
) -> list[str]:
    """Put an interval in words into the parts of its row; return the footnotes it names."""
    if column.acts and (acts := acts_in_cell(cell)):
        return _take_acts(row, at, cell, acts, column, layout, parts)
    bare, named, lost = without_references(cell, layout.notes)
    if column.coded and is_coded(bare):
        if not (explained := said_by(bare, layout.codes)):
            sentence = _("No legend says what “{sign}” means.").format(sign=bare)
            row.ask(at, sentence, f"code:{bare}", ["words"])
            parts.setdefault("", Part()).when.append(bare)
            return named
        bare = explained
    part = parts.setdefault(column.act, Part())
    part.replaces = part.replaces or act_of(column.act) == "replace"
    part.words += [column.heading] if column.acts and is_who(column.heading) else []
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
    if column.unit is None and not said.doubt and FIGURES.fullmatch(bare):
        said = without_unit(said)
    condition = column.condition
    if condition == HARD:
        sentence = _("“{heading}” over it: {why}").format(heading=column.heading, why=why("severe"))
        condition = row.ask(at, sentence, f"hard:{plain(column.heading)}", ["dust", "heavy"])
    _take(row, at, bare, said, part, condition)
    return named


def _take_acts(
    row: Row,
    at: int,
    cell: str,
    acts: Sequence[Act],
    column: Column,
    layout: Layout,
    parts: dict[str, Part],
) -> list[str]:
    """Put what is done in a cell, each with its interval, into the parts of a row."""
    named = [reference for reference in references(cell) if reference in layout.notes]
    _bare, _named, lost = without_references(cell, layout.notes)
    if lost:
        sentence = _("It refers to note {reference}, which is not in the table. What does it say?")
        row.ask(at, sentence.format(reference=", ".join(lost)), f"note:{','.join(lost)}", ["name"])
    for act in acts:
        words_said = act.words
        if act.letter:
            sign = layout.signs.get(act.letter) or _unexplained(row, at, act.letter)
            words_said = sign.words if sign.kind not in (EACH, FIRST) else ""
        key = words_said if words_said not in parts else f"{words_said} ({column.heading})"
        part = parts.setdefault(key, Part())
        part.replaces = act_of(words_said) == "replace"
        part.named += named
        said = read_interval(act.interval, unit=column.unit)
        if said is None:
            row.ask(at, why("words"), f"words:{plain(act.interval)}", ["words"])
            part.when.append(act.interval)
            continue
        if column.unit is None and not said.doubt and FIGURES.fullmatch(act.interval):
            said = without_unit(said)
        _take(row, at, act.interval, said, part, column.condition)
        part.words += [*act.notes, *([column.heading] if is_who(column.heading) else [])]
    return named


def _take(row: Row, at: int, bare: str, said: Said, part: Part, condition: str) -> None:
    codes = [str(number) for number in range(1, len(said.readings) + 1)]
    signature = f"unit:{len(codes)}" if said.doubt == UNITLESS else f"text:{plain(bare)}"
    code = row.ask(at, why(said.doubt), signature, codes) if said.doubt else "1"
    reading = said.readings[int(code) - 1]
    for mark in reading.marks:
        part.marks.append(replace(mark, condition=condition) if mark.condition == NORMAL else mark)
    if reading.when or not reading.marks:
        part.when.append(bare)
    elif said.rest or said.keep or said.doubt or has_condition(said):
        part.words.append(bare)


def take_section(row: Row, section: tuple[int, str, Said], parts: dict[str, Part]) -> None:
    _number, heading, said = section
    part = parts.setdefault("", Part())
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
