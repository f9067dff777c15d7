"""Text copied from a document: its columns, found where its blanks stand below each other.

A line's words are parted by two blanks or more; a part belongs to the column that it stands under. A title or
a heading that goes on in the next line is put together. Where the blanks were lost in copying, a mark gets a
question mark, since nobody can say under which heading it stood.
"""

import re
from collections.abc import Sequence
from itertools import pairwise

from servicing.planning.table_intervals import read_interval
from servicing.planning.table_keys import is_key
from servicing.planning.table_places import Part, is_mark, places_by_blanks
from servicing.planning.table_words import together

GAP = re.compile(r"\s{2,}")
LEADERS = re.compile(r"\s*(?:\.{4,}|…{2,}|(?:\. ){3,}\.?)\s*")
BULLET = re.compile(r"^\s*(?:[•●▪■□◦*–-]|\d{1,2}(?:\.\d{1,2})*[.)]?)\s+(?=\S)")
EXPLAINED = re.compile(r"(?:^|\s)\S{1,2}\s*[=:]\s*[^\W\d]")
RULED = re.compile(r"[\s+|]*[-=_─—]{4}[\s+|=_─—-]*")  # a line that was drawn
LOST = "?"
FEWEST, MOST = 2, 40


def columns_of(lines: Sequence[str]) -> list[list[str]]:
    """Return the cells of each line; lines without runs of blanks stay one cell, but for lost columns."""
    lines = ["" if RULED.fullmatch(line) else line for line in lines]
    text = [LEADERS.sub("   ", line.expandtabs().replace("\u00a0", " ")).rstrip() for line in lines]
    parted = [_whole(line) if _is_legend(line) else _parts(line) for line in text]
    wide = [parts for parts in parted if len(parts) >= FEWEST]
    if any(len(parts) > MOST for parts in wide):  # no table has so many columns: the reader refuses them
        return [[part.words for part in parts] for parts in parted]
    if len(wide) < FEWEST:
        return _lost(text)
    if (stacked := _stacked(parted)) is not None:
        return stacked
    if _is_even(wide):
        return _in_order(parted, max(len(parts) for parts in wide))
    if (housed := places_by_blanks(parted)) is not None:
        places, parted = housed
    else:
        places = _places(wide)
    rows = [_row(parts, places) if len(parts) >= FEWEST else _alone(parts, places) for parts in parted]
    return _wrapped(rows, parted)


def stands_in_columns(text: str) -> bool:
    """Whether blanks part the cells of a text, as in one copied from a document, and no sign does."""
    lines = [line for line in text.splitlines() if line.strip()]
    parted = sum(len(_parts(line)) >= FEWEST for line in lines)
    return "\t" not in text and len(lines) > FEWEST and parted * 2 > len(lines)


def _is_legend(line: str) -> bool:
    """Whether a line explains signs, so that its blanks part no columns."""
    return len(EXPLAINED.findall(line)) > 1 or is_key(line)


def _whole(line: str) -> list[Part]:
    return [Part(0, len(line), " ".join(line.split()))]


def _parts(line: str) -> list[Part]:
    found, at = [], len(line) - len(line.lstrip())
    for gap in [*GAP.finditer(line, at), None]:
        end = gap.start() if gap else len(line)
        if line[at:end].strip():
            found.append(Part(at, end, line[at:end]))
        at = gap.end() if gap else len(line)
    return found


def _places(rows: Sequence[Sequence[Part]]) -> list[tuple[int, int]]:
    """Return where each column runs: parts that overlap are one column, by the row with most of them."""
    most = max(len(parts) for parts in rows)
    places = [(part.start, part.end) for part in next(parts for parts in rows if len(parts) == most)]
    for parts in rows:
        if len(parts) == most:
            for at, part in enumerate(parts):
                places[at] = (min(places[at][0], part.start), max(places[at][1], part.end))
    for at in range(len(places) - 1):  # neighbours that grew into each other part in the middle
        if places[at][1] > places[at + 1][0]:
            middle = (places[at][1] + places[at + 1][0]) // 2
            places[at], places[at + 1] = (places[at][0], middle), (middle, places[at + 1][1])
    strays = [
        part
        for parts in rows
        for part in parts
        if not is_mark(part.words) and all(part.end <= start or part.start >= end for start, end in places)
    ]
    for part in strays:  # words that stand below each other under no heading, be they close to one
        others = [each for each in strays if each.start < part.end and part.start < each.end]
        apart = all(part.end <= start or part.start >= end for start, end in places)
        if apart and len(others) > FEWEST:
            places.append((min(each.start for each in others), max(each.end for each in others)))
            places.sort()
    for parts in rows:  # a column that only some rows have
        for part in parts:
            if all(part.end <= start or part.start >= end for start, end in places) and not _between(
                part, places
            ):
                places.append((part.start, part.end))
                places.sort()
    return places


def _stacked(parted: Sequence[Sequence[Part]]) -> list[list[str]] | None:
    """Rows below headings that each stand on a line of their own; None: there are none such.

    As many lines as the rows have cells, with two intervals or more among them. A row with fewer cells has
    lost one. The headings may come again, on the next page.
    """
    most = max(len(parts) for parts in parted)
    stack = _stack(parted, most)
    if stack is None:
        return None
    start, heads = stack
    kept: list[Sequence[Part]] = []
    number = 0
    while number < len(parted):
        lines = [" ".join(part.words for part in parts) for parts in parted[number : number + most]]
        if lines == heads and number != start:
            number += most
        elif number == start:
            kept.append([Part(0, 0, head) for head in heads])
            number += most
        else:
            kept.append(parted[number])
            number += 1
    return _in_order(kept, most)


def _stack(parted: Sequence[Sequence[Part]], most: int) -> tuple[int, list[str]] | None:
    """The first of the lines that are headings, each alone, and their words."""
    for number in range(len(parted) - most):
        lines, below = parted[number : number + most], parted[number + most]
        heads = [parts[0].words.strip() for parts in lines if len(parts) == 1]
        if len(heads) < most or most <= FEWEST or len(below) < most - 1:
            continue
        said = [read_interval(head) for head in heads]
        timed = sum(bool(each and each.first.marks) for each in said)
        if said[0] is None and timed >= FEWEST:
            return number, heads
    return None


def _is_even(wide: Sequence[Sequence[Part]]) -> bool:
    """Whether all blanks are alike, so that nothing stands below anything and cells only have an order."""
    most = max(len(parts) for parts in wide)
    gaps = {later.start - one.end for parts in wide for one, later in pairwise(parts)}
    starts = {parts[1].start for parts in wide}
    short = any(len(parts) < most for parts in wide)
    return most > FEWEST and len(gaps) == 1 and len(starts) > FEWEST and short


def _in_order(rows: Sequence[Sequence[Part]], most: int) -> list[list[str]]:
    """Cells by their order alone; in a row that lacks one, nobody can say under which heading marks stood."""
    found: list[list[str]] = []
    for parts in rows:
        said = [" ".join(part.words.split()) for part in parts]
        before = found[-1] if found else []
        if FEWEST <= len(said) < most:
            last = said.pop() if not is_mark(said[-1]) else ""
            marks = [f"{cell} {LOST}" if is_mark(cell) else cell for cell in said[1:]]
            spare = [""] * (most - 1 - len(marks) - bool(last))
            cells = [said[0], *marks, *spare, *([last] if last else [])]
        else:
            cells = said + [""] * (most - len(said))
        if before and before[0][-1:] == "-" and not any(before[1:]) and cells[0][:1].islower():
            found[-1] = [together(before[0], cells[0]), *cells[1:]]
        else:
            found.append(cells)
    return found


def _between(part: Part, places: Sequence[tuple[int, int]]) -> bool:
    """Whether a part stands close enough to a column to belong to it."""
    return min(_away(part, place) for place in places) <= 4


def _away(part: Part, place: tuple[int, int]) -> int:
    return max(place[0] - part.end, part.start - place[1], 0)


def _row(parts: Sequence[Part], places: Sequence[tuple[int, int]]) -> list[str]:
    cells = [""] * len(places)
    if len(parts) == len(places):
        return [part.words for part in parts]
    for number, part in enumerate(parts):
        if not number and part.start < places[0][1] and not is_mark(part.words):
            cells[0] = part.words  # a task's words may run below the next heading
            continue
        middle = part.start + part.end
        shared = [min(part.end, end) - max(part.start, start) for start, end in places]
        best = max(shared)
        if best > 0:
            at = max(range(len(places)), key=lambda at: (shared[at], -abs(middle - sum(places[at]))))
            doubt = False
        else:
            near = sorted(range(len(places)), key=lambda at: _away(part, places[at]))
            at = near[0]
            second = _away(part, places[near[1]]) if len(near) > 1 else 99
            doubt = is_mark(part.words) and second <= _away(part, places[at]) + 1
        said = f"{part.words} {LOST}" if doubt or part.lost else part.words
        cells[at] = f"{cells[at]} {said}".strip()
    return cells


def _alone(parts: Sequence[Part], places: Sequence[tuple[int, int]]) -> list[str]:
    if not parts:
        return [""] * len(places)
    if parts[0].end - parts[0].start > places[0][1] - places[0][0] + 20:
        return [parts[0].words] + [""] * (len(places) - 1)
    if parts[0].start < places[0][1]:
        return [parts[0].words] + [""] * (len(places) - 1)
    return _row(parts, places)


def _wrapped(rows: list[list[str]], parted: Sequence[Sequence[Part]]) -> list[list[str]]:
    """Put a title that goes on in the next line together: indented, or beginning with a small letter."""
    found: list[list[str]] = []
    starts = [parts[0].start for parts in parted if len(parts) >= FEWEST]
    usual = max(set(starts), key=starts.count)
    for row, parts in zip(rows, parted, strict=True):
        before = found[-1] if found else []
        goes_on = (
            len(parts) == 1 and row[0] != "" and any(before[1:]) and any(is_mark(cell) for cell in before)
        ) or (len(parts) == 1 and row[0] != "" and bool(before) and before[0] and any(before[1:]))
        begins = parts[0].words[:1] if parts else ""
        small = begins.islower() and not re.match(r"[a-z]\)", parts[0].words) if parts else False
        open_bracket = bool(before) and before[0].count("(") > before[0].count(")")
        indented = bool(parts) and parts[0].start > usual and begins not in "*¹²³"
        if parts and _is_legend(parts[0].words):
            found.append(row)
        elif goes_on and begins and (small or indented or open_bracket):
            before[0] = together(before[0], row[0])
        elif len(parts) >= FEWEST and small and before and before[0] and not any(before[1:]):
            found[-1] = [together(before[0], row[0]), *row[1:]]
        elif before and _is_second_line(row, before):
            cells = zip(before, row, strict=True)
            found[-1] = [together(one, other) if one and other else one + other for one, other in cells]
        else:
            found.append(row)
    return found


def _is_second_line(row: Sequence[str], before: Sequence[str]) -> bool:
    """Whether a row only goes on with cells of the row before: no task, no mark, small letters first."""
    filled = [at for at, cell in enumerate(row) if cell]
    return (
        bool(filled)
        and not row[0]
        and all(before[at] and not is_mark(before[at]) for at in filled)
        and all(row[at][:1].islower() or row[at][:1] in "(/" for at in filled)
        and not any(is_mark(row[at]) for at in filled)
    )


def _lost(lines: Sequence[str]) -> list[list[str]]:
    """Cells of text whose columns were lost: a heading that ends in intervals, rows that end in marks."""
    for number, line in enumerate(lines):
        heads = _intervals_at_end(line)
        if len(heads) < FEWEST + 1:
            continue
        rows = [[each] if each.strip() else [""] for each in lines[:number]]
        rows.append(heads)
        marked = False
        for each in lines[number + 1 :]:
            title, marks = _marks_at_end(each)
            marked = marked or bool(marks)
            if len(marks) < len(heads) - 1:
                marks = [f"{mark} {LOST}" for mark in marks]
            rows.append([title, *marks])
        if marked and any(row[0] for row in rows):
            return rows
    return _unwrapped(lines)


def _unwrapped(lines: Sequence[str]) -> list[list[str]]:
    """Lines of one column; one that goes on with the line before, indented below its bullet, is put to it."""
    found: list[list[str]] = []
    bulleted = False
    for line in lines:
        indented = line[:1].isspace() and not BULLET.match(line)
        if found and found[-1][0] and line.strip() and bulleted and indented:
            found[-1] = [together(found[-1][0].rstrip(), line.strip())]
            continue
        bulleted = bool(BULLET.match(line))
        found.append([line])
    return found


def _intervals_at_end(line: str) -> list[str]:
    """Part `Inspection point 50 h 200 h 400 h` into the words and each interval."""
    words = line.split()
    found: list[str] = []
    while words:
        taken = next(
            (size for size in (1, 2, 3) if size <= len(words) and _is_interval(" ".join(words[-size:]))), 0
        )
        if not taken:
            break
        found.insert(0, " ".join(words[-taken:]))
        words = words[:-taken]
    return [" ".join(words), *found] if words and len(found) >= FEWEST else []


def _is_interval(words: str) -> bool:
    said = read_interval(words)
    return said is not None and not said.doubt and bool(said.first.marks) and words[:1].isdigit()


def _marks_at_end(line: str) -> tuple[str, list[str]]:
    words = line.split()
    marks: list[str] = []
    while len(words) > 1 and is_mark(words[-1]):
        marks.insert(0, words.pop())
    return " ".join(words), marks
