"""Lines that say the interval of the tasks below them: `Every 500 h`, `Daily: check the oil`."""

import re
from collections.abc import Sequence
from dataclasses import replace

from servicing.planning import table_words as words
from servicing.planning.table_doubts import BARE, LOOSE, Reading, Said
from servicing.planning.table_heading_rows import Cells
from servicing.planning.table_intervals import read_interval, without_unit
from servicing.planning.table_signs import bare_of
from servicing.planning.table_words import plain

FIGURES = re.compile(r"(?=.*\d)[\d\s.,–-]+")
AS_WRITTEN = Reading((), "as written")
NUMBERING = re.compile(r"^\s*(?:\d{1,2}(?:\.\d{1,2})+\.?|\d{1,2}[.)]|[A-Z][.)])\s+(?=\S)")
BULLET = re.compile(r"^\s*(?:[•●▪■□◦*–-]\s+|\d{1,2}(?:\.\d{1,2})+\.?\s+|\d{1,2}[.)]\s+)(?=\S)")


def is_list(table: Cells) -> bool:
    """Whether intervals stand alone on their rows, with tasks below them."""
    return any(section_of(row) is not None or inline(row) is not None for row in table)


def section_of(row: Sequence[str]) -> Said | None:
    said = [cell for cell in row if cell]
    return section_in(said[0]) if len(said) == 1 else None


def section_in(line: str) -> Said | None:
    """Return the interval that a line says which stands over tasks: `Every 500 h`, `Service at 50 h`."""
    if len(line) > 100:
        return None
    text = NUMBERING.sub("", bare_of(line)).rstrip(":")
    if BULLET.match(text):  # "* Every 500 h" is a title, "* Grease at 500 h" is none
        found = read_interval(BULLET.sub("", text))
        return found if found and found.first.marks and not (found.rest or found.doubt) else None
    found = read_interval(text)
    if found is None:
        return None
    if FIGURES.fullmatch(text):
        return found if found.doubt else without_unit(found)
    if found.rest or found.doubt:  # `Every 2nd oil change` ends the section before it
        begins = any(each.match(plain(text)) for each in (words.EVERY, words.FIRST, words.AFTER))
        names = bool(found.first.marks) and not words.acts_of(text) and len(text) <= 60 and ":" not in text
        if not (begins or names):
            return None
        if found.doubt == BARE:  # "Service at 50 h" beside other sections is the first time
            return replace(found, readings=(found.readings[1], found.readings[0], *found.readings[2:]))
        return found if found.doubt else replace(found, doubt=LOOSE, readings=(*found.readings, AS_WRITTEN))
    return found


def inline(row: Sequence[str]) -> tuple[Said, str] | None:
    """A line that says an interval and, after a colon, what is done then: `Daily: check the oil`."""
    said = [cell for cell in row if cell]
    before, colon, after = said[0].partition(":") if len(said) == 1 else ("", "", "")
    if not colon or not after.strip():
        return None
    found = section_of([before])
    return (found, after.strip()) if found and not found.doubt else None
