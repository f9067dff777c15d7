"""Where the columns of a text run, whose parts stand below each other: by the blanks between them."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

from servicing.planning import table_heading_words as heads
from servicing.planning.table_intervals import read_interval
from servicing.planning.table_signs import FIRST_ONLY, NOTHING, REPEATED, bare_of
from servicing.planning.table_words import plain

FEWEST, FEW = 2, 3
MOST_PAIRS = 100_000  # of a part and a row; a maker's table has a tenth of it
SET_IN = 4  # blanks by which a task may be set in
Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Part:
    """Words of a line between two wide blanks, and where they stand. lost: nobody can say below what."""

    start: int
    end: int
    words: str
    lost: bool = False


Parts = Sequence[Part]


@lru_cache(maxsize=8192)
def is_mark(words: str) -> bool:
    """Whether words are a mark, an act's letter or a dash."""
    bare = bare_of(words)
    return bare in REPEATED or bare in FIRST_ONLY or bare in NOTHING or bool(re.fullmatch(r"[A-Z]", bare))


def places_by_blanks(rows: Sequence[Parts]) -> tuple[list[Span], list[list[Part]]] | None:
    """Return where the columns run and the rows, where blanks run through them all; None: they don't.

    Tasks may run below the headings beside them, and one heading over several columns. A heading over two of
    them without a wide blank between is parted. A mark between two columns belongs to the nearer heading, and
    is lost where they are as near.
    """
    wide = [parts for parts in rows if _shows_columns(parts, rows)]
    if len(wide) < FEW:
        return None
    runs = _runs(wide)
    if runs is None:
        return None
    parted = [_split(parts, runs) for parts in rows]
    body = next(
        (at for at, parts in enumerate(parted) if any(is_mark(part.words) for part in parts[1:])), None
    )
    if body is None:
        return None
    headings = [part for parts in parted[:body] if len(parts) >= FEW for part in parts]
    return _housed(runs, headings, parted)


def _shows_columns(parts: Parts, rows: Sequence[Parts]) -> bool:
    most = max(map(len, rows))
    return len(parts) >= FEW or (len(parts) == FEWEST and (most <= FEW or is_mark(parts[1].words)))


def _runs(wide: Sequence[Parts]) -> list[Span] | None:
    """The columns between the blanks, the tasks' first; None where two parts of a row are in one of them."""
    left = min(parts[0].start for parts in wide)
    spanning = _spanning(wide)
    if spanning is None:
        return None
    spans = []
    for parts in wide:
        for at, part in enumerate(parts):
            if (at or part.start > left + SET_IN) and (part.start, part.end) not in spanning:
                spans.append((part.start, part.end))
    heads_of = next(
        (at for at, parts in enumerate(wide) if any(is_mark(part.words) for part in parts[1:])), 0
    )
    over = [part for parts in wide[:heads_of] for part in parts[1:]]
    for part in over:  # a heading over marks that have no other one is theirs, be there two in a row
        below = [span for span in spans if part.start < span[1] and span[0] < part.end]
        alone = not any(part is not each and part.start < each.end and each.start < part.end for each in over)
        if (part.start, part.end) in spanning and below and alone:
            spans.append((part.start, part.end))
    runs: list[Span] = []
    for start, end in sorted(spans):
        if runs and start < runs[-1][1]:
            runs[-1] = (runs[-1][0], max(end, runs[-1][1]))
        else:
            runs.append((start, end))
    if not runs or runs[0][0] <= left:
        return None
    titles = [parts[0].end for parts in wide if parts[0].start <= left + SET_IN]
    runs.insert(0, (left, min(max(titles), runs[0][0])))
    for parts in wide:
        own = [
            (_run_of(part, runs), is_mark(part.words))
            for part in parts
            if (part.start, part.end) not in spanning
        ]
        worded = [at for at, mark in own if not mark]
        if len({*worded}) < len(worded) or {*worded} & {at for at, mark in own if mark}:
            return None
    return runs


def _spanning(rows: Sequence[Parts]) -> set[Span] | None:
    """Parts that stand over two parts of another row, as the heading of both; None: there are too many."""
    shapes = {tuple((part.start, part.end) for part in parts) for parts in rows}
    spans = {span for shape in shapes for span in shape[1:]}
    if len(spans) * len(shapes) > MOST_PAIRS:
        return None
    return {
        (start, end)
        for start, end in spans
        if any(
            sum(one < end and start < other for one, other in shape) > 1
            for shape in shapes
            if (start, end) not in shape
        )
    }


def _run_of(part: Part, runs: Sequence[Span]) -> int:
    """The column of a part; words that begin in the first are its own however far they run."""
    if part.start < runs[0][1] and not is_mark(part.words):
        return 0
    return max(range(len(runs)), key=lambda at: min(part.end, runs[at][1]) - max(part.start, runs[at][0]))


def _split(parts: Parts, runs: Sequence[Span]) -> list[Part]:
    """Part what has but one blank between two columns: `x x`, `50 h 100 h`, `No. Item`."""
    found: list[Part] = []
    for part in parts:
        if (
            " " not in part.words
            or sum(part.start < end and start < part.end for start, end in runs) < FEWEST
        ):
            found.append(part)
            continue
        words = [
            Part(part.start + word.start(), part.start + word.end(), word[0])
            for word in re.finditer(r"\S+", part.words)
        ]
        pieces: list[Part] = []
        for word in words:
            at = next(
                (at for at, (start, end) in enumerate(runs) if word.start < end and start < word.end), -1
            )
            before = pieces[-1] if pieces else None
            if before and at == _run_at(before, runs):
                pieces[-1] = Part(
                    before.start, word.end, part.words[before.start - part.start : word.end - part.start]
                )
            else:
                pieces.append(word)
        apart = len(pieces) > 1 and all(_run_at(piece, runs) >= 0 for piece in pieces)
        if apart and (all(is_mark(piece.words) for piece in pieces) or _are_headings(pieces)):
            found += pieces
        else:
            found.append(part)
    return found


def _run_at(part: Part, runs: Sequence[Span]) -> int:
    return next((at for at, (start, end) in enumerate(runs) if part.start < end and start < part.end), -1)


def _are_headings(pieces: Parts) -> bool:
    """Whether each piece is a heading by itself: intervals, or the number of a row beside its name."""
    said = [plain(piece.words).strip(" .:") for piece in pieces]
    if said[0] in heads.NUMBER_HEADINGS and len(said) == FEWEST:
        return said[1] in heads.TASK_HEADINGS | heads.ITEM_HEADINGS
    read = [read_interval(words) for words in said]
    return all(each and not each.rest and each.first.marks for each in read) and all(
        re.search(r"\d\s?[a-z]|[a-z]{4}", words) for words in said
    )


def _housed(
    runs: Sequence[Span], headings: Parts, rows: Sequence[Sequence[Part]]
) -> tuple[list[Span], list[list[Part]]] | None:
    """The columns that have a heading or words, and the marks that stand below none put to the nearest."""
    marks = [part for parts in rows for part in parts[1:] if is_mark(part.words)]
    headed = [run for run in runs if any(part.start < run[1] and run[0] < part.end for part in headings)]
    worded = [
        run
        for run in runs
        if any(
            part.start < run[1] and run[0] < part.end and not is_mark(part.words)
            for parts in rows
            if len(parts) >= FEW
            for part in parts[1:]
        )
    ]
    places = [run for run in runs if run in headed or run in worded or run == runs[0]]
    if len(headed) < FEWEST:
        return None
    homes = {(part.start, part.end): _home(part, places, headings) for part in marks}
    doubtful = {span for span, home in homes.items() if home is None}
    doubtful |= _two_below_one({span: home for span, home in homes.items() if home is not None}, places)
    last = max(end for _start, end in headed)
    unmarked = [run for run in headed[1:] if run not in homes.values()]
    if unmarked and any(start >= last for start, _end in homes):
        doubtful |= {*homes}  # marks beyond the last heading and a heading without one: all are shifted
    return places, [_moved(parts, places, homes, doubtful, headings) for parts in rows]


def _moved(
    parts: Parts,
    places: Sequence[Span],
    homes: Mapping[Span, Span | None],
    doubtful: Collection[Span],
    headings: Parts,
) -> list[Part]:
    """A row whose marks stand where their columns run; two in one column are lost, the later beside it."""
    found: list[Part] = []
    taken: dict[Span, int] = {}
    for at, part in enumerate(parts):
        span = (part.start, part.end)
        if at and is_mark(part.words) and span in homes:
            home = homes[span] or _nearest(part, places)
            lost = span in doubtful
            if home in taken:
                lost = True
                found[taken[home]] = replace(found[taken[home]], lost=True)
                home = next((each for each in places if each > home and each not in taken), home)
            taken[home] = len(found)
            found.append(replace(part, start=home[0], end=home[1], lost=lost))
        elif at and part in headings:  # one over several columns stands over the first of them
            own = next((place for place in places[1:] if part.start < place[1] and place[0] < part.end), None)
            found.append(replace(part, end=min(part.end, own[1])) if own else part)
        else:
            found.append(part)
    return found


def _nearest(part: Part, places: Sequence[Span]) -> Span:
    return min(places[1:], key=lambda place: _away(part, place))


def _home(part: Part, places: Sequence[Span], headings: Parts) -> Span | None:
    """The column a mark stands in or is nearest to; None: two are as near."""
    own = [place for place in places[1:] if part.start < place[1] and place[0] < part.end]
    if own:
        return own[0]
    near = sorted(places[1:], key=lambda place: _away(part, place))
    if len(near) > 1 and _away(part, near[1]) <= _away(part, near[0]) + 1:
        return None
    return near[0] if near else None


def _away(part: Part, place: Span) -> int:
    return max(place[0] - part.end, part.start - place[1], 0)


def _two_below_one(homes: dict[Span, Span], places: Sequence[Span]) -> set[Span]:
    """Marks that stand apart below one heading while the one beside it has none: one of them is shifted."""
    found: set[Span] = set()
    marked = {*homes.values()}
    for at, place in enumerate(places):
        spans = sorted(span for span, home in homes.items() if home == place)
        apart = any(later[0] - one[1] >= FEWEST for one, later in pairwise(spans))
        beside = [each for each in places[max(at - 1, 1) : at + 2] if each not in marked]
        if apart and beside:
            found |= {*spans}
    return found
