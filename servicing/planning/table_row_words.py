"""The words of a row: its title, its page, what is kept as a note, and the act a column of its own says."""

import re

from servicing.planning.language import gettext as _
from servicing.planning.table_heading_rows import is_mark
from servicing.planning.table_headings import ACT, NOTE, PAGE, SPEC, TASK
from servicing.planning.table_layout import NAMED_NOTE, Layout, without_references
from servicing.planning.table_row import Row
from servicing.planning.table_sections import BULLET
from servicing.planning.table_signs import NOTHING, bare_of, references, signs_in
from servicing.planning.table_words import plain

LONGEST_PAGE = 20
IN_PAGE = re.compile(
    r"\s*[(\[]?\b(?:see |siehe |voir |ver |vedi |zie )?"
    r"(?:pages?|pp?\.|s\.|seite|pág(?:ina|\.)|pag(?:ina|\.)|blz\.?)"
    r"\s*([A-Z]{0,2}[-–.]?\d[\w.–-]*)\s*[)\]]?\s*$",
    re.I,
)


def words_of(row: Row, layout: Layout, settled: bool) -> tuple[str, str, list[str], list[str], str]:
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
            title, explained = _signs_beside(title, layout)
            kept += explained
            if lost and title and not settled:
                sentence = _("It refers to note {reference}, which is not in the table. What does it say?")
                row.ask(at, sentence.format(reference=", ".join(lost)), f"note:{','.join(lost)}", ["name"])
            if not cell and has_act and row.carried:
                title = row.carried
            elif title and has_act:
                row.carried = title
        elif column.kind == ACT and cell and plain(cell) not in NOTHING:
            act, references_here, _lost = without_references(cell, layout.notes)
            act = _spelled(act, layout)
            named += references_here
        elif column.kind == PAGE and cell:
            page = cell
            if len(cell) > LONGEST_PAGE:
                row.faults.append((at, _("a page has at most {most} characters").format(most=LONGEST_PAGE)))
        elif column.kind in (NOTE, SPEC) and cell and plain(cell) not in NOTHING:
            if layout.note_rows and _is_beside(cell, row, layout):
                continue
            if not column.heading and not settled and is_mark(cell):
                sentence = _("“{cell}” is a mark, but there is no heading above it")
                row.faults.append((at, sentence.format(cell=cell)))
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


def _spelled(act: str, layout: Layout) -> str:
    """An act's letters in the legend's words."""
    meant = [layout.signs.get(sign) for sign in signs_in(act, layout.signs)]
    spelled = [sign.words for sign in meant if sign is not None and sign.words]
    return ", ".join(spelled) if spelled and len(spelled) == len(meant) else act


def _signs_beside(title: str, layout: Layout) -> tuple[str, list[str]]:
    """A title without the symbols of the legend at its end, and what they mean."""
    explained: list[str] = []
    while len(title) > 1 and title[-1] in layout.signs and not (title[-1].isalnum() or title[-1] in "*)"):
        explained.insert(0, layout.signs[title[-1]].words)
        title = title[:-1].rstrip()
    return title, explained


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
