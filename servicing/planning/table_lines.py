"""Tasks typed one a line: `Change oil - every 500 h, p. 88`, `Every 250 h: change oil`, `- Grease (daily)`.

A line is parted at its dashes, colons, commas and brackets; each part is an interval, a page, an act with an
interval of its own, or words. What stands before the interval is the task, or after it where the line begins
with the interval; the rest stays as a note. Where that isn't plain the words go into the interval's cell, so
that the reader of intervals asks.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from servicing.planning import table_words as words
from servicing.planning.table_heading_words import PAGE_HEADINGS
from servicing.planning.table_intervals import units_in
from servicing.planning.table_line_parts import (
    Piece,
    bullet_of,
    is_conditional,
    is_first,
    is_interval,
    may_hold,
    pieces_of,
)
from servicing.planning.table_sections import section_in
from servicing.planning.table_words import acts_of, plain

HEADINGS = ("Task", "Interval", "Page", "Note")
FEWEST = 2
MOST_WIDE = 4  # a line in four may have wide blanks or leaders and be typed nevertheless
UNSAID = "?"
LINES = " | "
LONGEST = 300  # characters of a line that may be a task; a longer one is prose
SHORT = {"days"}  # whose letters say too little by themselves
WIDE = re.compile(r"\s{2,}|\.{4,}|…{2,}")
BARE_NUMBER = re.compile(r"(.*[^\W\d_]{2}.*?)\s+(\d{2,5})")
BARE_PAGE = re.compile(r"; (\d{1,5})\?")
CELL_SIGN = re.compile(r"[^\W\d_\s][;,](?=\S)")
Rows = list[list[str]]


@dataclass(slots=True)
class Job:
    """A task that a line holds."""

    title: str
    interval: list[str] = field(default_factory=list)
    page: str = ""
    notes: list[str] = field(default_factory=list)

    def cells(self) -> list[str]:
        """Its row under HEADINGS."""
        return [self.title, "".join(self.interval), self.page, "; ".join(filter(None, self.notes))]


@dataclass(slots=True)
class _Line:
    """A line as typed. jobs: the tasks it holds with their own intervals; section: it says when."""

    typed: str
    bulleted: bool = False
    jobs: list[Job] = field(default_factory=list)
    section: str = ""
    bare: bool = False
    may_be_section: bool = False
    only_hard: bool = False
    only_first: bool = False
    number: Job | None = None
    indent: int = 0

    @property
    def heads(self) -> bool:
        """Whether it may be the title of the tasks below it."""
        return bool(self.typed) and not (self.bulleted or self.jobs or self.section)


EMPTY = _Line("")


def rows_of_lines(lines: Sequence[str]) -> Rows | None:
    """Return the cells of tasks typed one a line, below HEADINGS; None: the lines are something else.

    Two lines at least must say their own interval, and half of those that are no title. Lists that say all
    their intervals in titles are read as they stand.
    """
    if not _are_lines(lines):
        return None
    read = [_line(line) for line in lines]
    said = [line for line in read if line.typed]
    clean = any(line.section for line in read)
    for line, after in zip(said, [*said[1:], EMPTY], strict=False):
        if (
            line.may_be_section
            and clean
            and after.typed
            and not ((after.jobs and not after.only_hard) or after.section)
        ):  # "Evrey 100 h"
            line.section, line.jobs = line.typed, []
    sections = any(line.section for line in read)
    if not sections and said and all(line.number for line in said):  # "Change oil 250"
        for line in said:
            line.bare, line.jobs = True, [line.number] if line.number else []
    timed = [line for line in read if line.jobs and not (sections and line.only_hard)]
    worded = [line for line in timed if not line.bare]
    begins = next((at for at, line in enumerate(read) if line.jobs or line.section), 0)
    if begins and read[begins - 1].typed and any(line.heads for line in read[begins:]):
        begins -= 1  # "Engine" over its tasks, as "Hydraulics" below
    rest = [line for line in read[begins:] if line.typed and not line.section]
    if len(timed) < (1 if sections else FEWEST) or (not worded and (sections or len(timed) < len(rest))):
        return None
    if not sections and len(timed) * 2 < len(rest):
        return None
    if any(_ends_in_page(line.typed) for line in read[:begins]):
        _number_is_page(read[begins:])
    return list(_rows(read, begins))


def _ends_in_page(typed: str) -> bool:
    """Whether a line is headings of what the lines below hold, a page last: `Job - when - page`."""
    pieces = pieces_of(typed)
    return len(pieces) > FEWEST and plain(pieces[-1].text).strip(" .") in PAGE_HEADINGS


def _number_is_page(read: Sequence[_Line]) -> None:
    for job in (job for line in read for job in line.jobs):
        if len(job.interval) > 1 and (number := BARE_PAGE.fullmatch(job.interval[-1])):
            job.page, job.interval = number[1], job.interval[:-1]


def _are_lines(lines: Sequence[str]) -> bool:
    """Whether no columns run through a text: few wide blanks, or each behind a task and its interval."""
    said = [parts for line in lines if (parts := [each for each in WIDE.split(line.strip()) if each])]
    wide = [parts for parts in said if len(parts) > 1]
    if len(wide) * MOST_WIDE <= len(said):
        return True
    if any(len(parts) > FEWEST for parts in said):
        return False
    alone = [parts for parts in said if _line(parts[0]).jobs and not any(map(is_interval, parts[1:]))]
    return len(alone) * 2 > len(said)


def _rows(read: Sequence[_Line], begins: int) -> Iterator[list[str]]:
    """The rows: titles, the headings in the place of a blank line if there is one, then the tasks."""
    above = list(read[:begins])
    while above and not above[-1].typed:
        above.pop()
    for line in above:
        yield [line.typed, "", "", ""]
    yield from ([""] * 4 for _blank in range(max(begins - len(above) - 1, 0)))
    yield [*HEADINGS]
    section = ""
    for line, before, after in zip(
        read[begins:], [EMPTY, *read[begins:]], [*read[begins + 1 :], EMPTY], strict=False
    ):
        if line.section:
            section = line.section
            yield [line.typed, "", "", ""]
        elif section and line.only_first and len(line.jobs) == 1:
            line.jobs[0].interval.insert(0, f"{section.rstrip(': ')}, ")
            yield line.jobs[0].cells()
        elif section and line.only_hard:
            job = line.jobs[0]
            yield [job.title, section.rstrip(": "), job.page, "; ".join([*job.interval, *job.notes])]
        elif line.jobs and not (line.bare and section):
            yield from (job.cells() for job in line.jobs)
        elif not line.typed or (line.heads and _is_title(line, before, after, section)):
            yield [line.typed, "", "", ""]
        else:
            yield _without_interval(line.typed, section)


def _is_title(line: _Line, before: _Line, after: _Line, section: str) -> bool:
    """Whether a line without an interval is a title: it says so, or stands apart or over lines set in."""
    said = line.typed.endswith(":") or line.typed.isupper()
    over = after.typed and (after.indent > line.indent or after.bulleted)
    return said or bool(over) or (not before.typed and bool(after.typed) and not section)


def _without_interval(typed: str, section: str) -> list[str]:
    """A task that has its section's interval, or none of its own, which is asked."""
    _bullet, text = bullet_of(typed)
    found = [piece for piece in pieces_of(text) if piece.kind == "page"]
    page = found[0].page if found else ""
    title = text[: found[0].start].rstrip(" ,;-–(") if found else text
    return [title, section.rstrip(": ") or UNSAID, page, ""]


def _line(line: str) -> _Line:
    bullet, text = bullet_of(line) if len(line) <= LONGEST else ("", "")
    read = _Line(line.strip(), bool(bullet), indent=len(line) - len(line.lstrip()))
    if not text:
        return read
    if not may_hold(plain(text)) and not re.search(r"\d", text):
        return read
    said, pieces = section_in(text), pieces_of(text)
    if said is not None and (not (said.rest or said.doubt) or (_begins(text) and not _says_work(pieces))):
        read.section = text
        return read
    read.may_be_section = said is not None and not bullet and not _says_work(pieces)
    read.may_be_section = read.may_be_section and (len(pieces) == 1 or pieces[0].kind == "interval")
    timed = [piece for piece in pieces if piece.is_timed]
    if not timed:
        numbers = [piece for piece in pieces if piece.kind == "number"]
        if text[-1].isdigit() and (bare := BARE_NUMBER.fullmatch(text)):
            read.number = Job(bare[1], [bare[2]])
        if len(numbers) != 1 or pieces[0].kind != "words" or numbers[0] is not pieces[-1]:
            return read
        read.bare = True
    read.jobs = _jobs(text, pieces)
    read.only_first = bool(timed) and all(is_first(piece.said) for piece in timed)
    read.only_hard = bool(timed) and all(is_conditional(piece.said) for piece in timed)
    return read


def _begins(text: str) -> bool:
    return any(each.match(plain(text)) for each in (words.EVERY, words.FIRST, words.AFTER))


def _says_work(pieces: Sequence[Piece]) -> bool:
    """Whether a line that begins with an interval says what is done then."""
    told = [piece for piece in pieces if piece.kind == "words" and not piece.bracketed]
    first = pieces[0]
    return first.kind == "interval" and bool(told) and (first.after == ":" or any(map(_has_act, told)))


def _has_act(piece: Piece) -> bool:
    return bool(acts_of(piece.text))


def _jobs(text: str, pieces: Sequence[Piece]) -> list[Job]:
    """The tasks of a line, its pieces in order; [] where it names none."""
    if pieces[0].kind == "interval" and not pieces[0].bracketed:
        return _interval_first(text, pieces)
    if pieces[0].kind == "act" and pieces[0].after == ":" and len(pieces) > 1:  # "Check daily: oil, tyres"
        begins = replace(pieces[0], kind="interval", text=pieces[0].said)
        found = _interval_first(text, [begins, *pieces[1:]])
        for job in found:
            job.title = LINES.join(f"{pieces[0].words} {part}" for part in job.title.split(LINES))
        return found
    return _task_first(text, pieces)


def _interval_first(text: str, pieces: Sequence[Piece]) -> list[Job]:
    """`Every 250 h: change oil; clean filter`, and what follows it under another interval."""
    found: list[Job] = []
    job = Job("")
    at = 0
    while at < len(pieces):
        piece = pieces[at]
        opens = piece.kind == "interval" and job.title and piece.after.startswith((":", "-", "–"))
        if opens and at + 1 < len(pieces) and pieces[at + 1].kind == "words":
            found.append(job)
            job = Job("")
        if piece.kind == "page":
            job.page = job.page or piece.page
        elif piece.kind in ("interval", "rider") or (piece.is_timed and job.title):
            job.interval.append(piece.whole if job.interval else piece.text)
        elif piece.bracketed:
            job.notes.append(piece.text)
        else:
            end = at
            while end + 1 < len(pieces) and pieces[end + 1].kind == "words" and not pieces[end + 1].bracketed:
                end += 1
            said = text[piece.start : pieces[end].end].strip(" ,;")
            sign = "," if pieces[at - 1].bracketed and text[pieces[at - 1].end + 1 :].startswith(",") else ";"
            job.title = f"{job.title}{sign} {said}" if job.title else said
            at = end
        at += 1
    found.append(job)
    if not all(job.title and job.interval for job in found):
        return []
    return [each for job in found for each in _apart(job)]


def _apart(job: Job) -> list[Job]:
    """The tasks of a line that names several: parted by semicolons they are, by commas a person says."""
    parts = [part.strip() for part in re.split(r";\s+", job.title) if part.strip()]
    if len(parts) > 1 and all(_begins_with_act(part) for part in parts):
        return [Job(part, [*job.interval], job.page, [*job.notes]) for part in parts]
    listed = [part.strip() for part in re.split(r",\s+", job.title) if part.strip()]
    short = all(len(part.split()) <= 4 and not re.search(r"\d", part) for part in listed)
    if len(parts) == 1 and len(listed) > 1 and short:
        return [Job(LINES.join(listed), job.interval, job.page, job.notes)]
    return [job]


def _begins_with_act(part: str) -> bool:
    return len(part.split()) > 1 and any(act.match(plain(part)) for act in words.ACTS.values())


def _task_first(text: str, pieces: Sequence[Piece]) -> list[Job]:
    """`Change engine oil - every 500 h, 7 l, p. 88`; `Air filter: clean 50 h, replace 500 h`."""
    start = next((at for at, piece in enumerate(pieces) if piece.is_timed or piece.kind == "number"), None)
    if start is None:
        return []
    before = [piece for piece in pieces[:start] if piece.kind != "page"]
    who = ""
    if before and before[-1].is_who:
        who = before.pop().text
    title = text[before[0].start : before[-1].end].strip(" ,;:") if before else ""
    begins = pieces[start]
    acts = begins.has_act
    if acts or (begins.kind == "mixed" and not title and not begins.leads):
        job = Job(f"{title}: {begins.words}" if title else begins.words, [begins.said], "", [who])
    else:  # what stands beside the interval is asked
        job = Job(title, [begins.text], "", [who])
    item = title or _item_of(begins)
    found = [job]
    who = ""
    for piece in pieces[:start]:
        job.page = job.page or piece.page
    for piece, after in zip(pieces[start + 1 :], [*pieces[start + 2 :], None], strict=False):
        if piece.kind == "words" and piece.after == ":" and after and after.kind == "interval":
            if piece.is_who:
                who = piece.text
            else:  # "Engine oil: 250 h, gearbox oil: 1000 h"
                found.append(Job(piece.text))
        elif piece.kind == "page":
            found[0].page = found[0].page or piece.page
        elif piece.is_who and piece.after.startswith(":"):
            who = piece.text
        elif piece.has_act and acts and (item or piece.kind == "mixed"):
            own = piece.words if piece.kind == "mixed" and not title else f"{item}: {piece.words}"
            found.append(Job(own, [piece.said], "", [who]))
        elif piece.kind == "number" and found[-1].interval:
            found[-1].interval.append(f"; {piece.said.rstrip('?')}?")  # a page, or months?
        elif piece.kind == "words" and units_in(piece.text) - SHORT and acts_of(piece.text):
            found[-1].interval.append(piece.whole)  # an interval that can't be read: it is asked
        elif piece.is_timed or piece.kind in ("number", "rider"):
            found[-1].interval.append(piece.whole if found[-1].interval else piece.text)
        else:
            found[-1].notes.append(piece.text)
    for other in found[1:]:
        other.page = found[0].page
    return [job for job in found if job.title]


def _item_of(piece: Piece) -> str:
    """What is worked on, in `Air cleaner check` or `Check air cleaner`."""
    each = piece.words.split()
    while each and acts_of(each[-1]):
        each.pop()
    while each and acts_of(each[0]):
        each.pop(0)
    return " ".join(each)


def stand_in_lines(text: str) -> bool:
    """Whether a text is tasks typed one a line, whose commas and semicolons part no cells of a file."""
    lines = [line for line in text.splitlines() if line.strip()]
    divided = sum(bool(CELL_SIGN.search(line)) for line in lines)
    return "\t" not in text and divided * 3 < len(lines) and rows_of_lines(lines) is not None
