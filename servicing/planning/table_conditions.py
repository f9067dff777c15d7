"""Intervals that a task's own words or its footnotes say: `in dust every 50 h`."""

import re
from collections.abc import Sequence

from servicing.planning import table_words as words
from servicing.planning.intervals import NORMAL
from servicing.planning.language import gettext as _
from servicing.planning.table_doubts import Said
from servicing.planning.table_headings import TASK
from servicing.planning.table_intervals import read_interval
from servicing.planning.table_keys import spelled_out
from servicing.planning.table_layout import Layout
from servicing.planning.table_marks import Marked
from servicing.planning.table_row import Part, Row
from servicing.planning.table_words import act_of, acts_of, plain

SAYS_WHEN = (words.EVERY, words.FIRST, words.AFTER)
SEGMENT = re.compile(r"[(\[]([^)\]]*)[)\]]|(?:[,;.:]|\s[–-])\s+((?:\d,\d|[^,;()])+)")


def said_in_title(title: str, layout: Layout) -> list[tuple[str, Said]]:
    """Intervals that a task's words themselves say: `Clean air filter (every 100 h)`."""
    found = []
    for match in SEGMENT.finditer(title):
        text = spelled_out(match[1] or match[2] or "", layout.codes)
        said = read_interval(text, acts=True)
        if said and any(reading.marks for reading in said.readings):
            bare = plain(text)
            if any(each.search(bare) for each in SAYS_WHEN) or has_condition(said):
                found.append((text, said))
    return found


def has_condition(said: Said) -> bool:
    return any(mark.condition != NORMAL for reading in said.readings for mark in reading.marks)


def title_against_marks(
    row: Row, at: int, title: str, in_title: Sequence[tuple[str, Said]], parts: dict[str, Part]
) -> None:
    """Where a task's words say another interval than its marks, a person decides."""
    for text, said in in_title:
        marks = said.first.marks
        if has_condition(said):
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


def take_conditions(
    row: Row, layout: Layout, notes: Sequence[str], title: str, parts: dict[str, Part]
) -> None:
    """Let a note that says an interval shorten it: `in dust every 50 h`. Its words stay on the task."""
    at = layout.at(TASK)
    for note in notes:
        said = read_interval(note, acts=True)
        if said and any(reading.marks for reading in said.readings):
            own = {
                name: part
                for name, part in parts.items()
                if any(layout.notes.get(reference) == note for reference in part.named)
            }
            _one_condition(row, at, note, said, own or parts, act_of(note), acts_of(title))


def _one_condition(
    row: Row, at: int, note: str, said: Said, parts: dict[str, Part], act: str, acts: set[str]
) -> None:
    """Let a note's interval count for the acts it names; a person decides where that isn't plain."""
    meant = [part for name, part in parts.items() if act and act_of(name) == act]
    same_act = not act or not acts or act in acts
    certain = bool(meant) or (len(parts) == 1 and same_act)
    meant = meant or list(parts.values())
    marks = list(said.first.marks)
    useful = [mark for mark in marks if any(_shortens(mark, part) for part in meant)]
    if not useful and not said.doubt:
        if same_act and len(parts) == 1 and not said.rest:
            _against(row, at, note, marks, meant)
        return
    if said.doubt and not useful:
        return
    code = "rule"
    only_first = not said.rest and all(mark.first for mark in marks)
    only_first = only_first and not any(mark.first for part in meant for mark in part.marks)
    if said.doubt or not certain or (any(mark.condition == NORMAL for mark in marks) and not only_first):
        sentence = _("“{note}”: does it count as an interval, or stay as words?").format(note=note)
        code = row.ask(at, sentence, f"note:{plain(note)}", ["rule", "words"])
    if code == "rule":
        for part in meant:
            part.marks += [mark for mark in useful if _shortens(mark, part)]


def _against(row: Row, at: int, note: str, marks: Sequence[Marked], parts: Sequence[Part]) -> None:
    """Where a note is nothing but another interval than the marks, a person decides."""
    own = {(mark.hours, mark.months) for part in parts for mark in part.marks}
    if {(mark.hours, mark.months) for mark in marks if mark.condition == NORMAL} <= own:
        return
    sentence = _("Its words say “{words}”, its mark says otherwise. Which is right?")
    if row.ask(at, sentence.format(words=note), f"against:{plain(note)}", ["mark", "words"]) == "words":
        for part in parts:
            part.marks = list(marks)


def _shortens(mark: Marked, part: Part) -> bool:
    """Whether a mark adds something to what is due already."""
    if mark.first and mark.condition == NORMAL:
        return not any(other.first and other.hours == mark.hours for other in part.marks)
    normal = [other for other in part.marks if not other.first and other.condition == NORMAL]
    if mark.hours is not None:
        hours = [other.hours for other in normal if other.hours is not None]
        return bool(part.marks) and (not hours or mark.hours < min(hours))
    months = [other.months for other in normal if other.months is not None]
    return bool(part.marks) and (not months or (mark.months or 0) < min(months))
