"""Cells that hold what is done and how often: `check level daily`, `C 500`, `I/100`, `R 1000 h or 2 y`."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from servicing.planning.table_line_parts import NUMBERED, Piece, is_interval, is_who, pieces_of
from servicing.planning.table_signs import GUESSES, NOTHING, bare_of
from servicing.planning.table_words import acts_of, plain

LETTERED = re.compile(
    r"(?:^|(?<=[\s,;/|+&]))([A-Z]{1,2})(?:\s*[/:=]?\s*(?=\d)|(?:\s*[/:=]\s*|\s+)(?=[^\W\dA-Z_]{3}))"
)
MOSTLY = 0.6  # the share of a column's cells from which all of them are read so


@dataclass(frozen=True, slots=True)
class Act:
    """One act of a cell: its letter or its words, the words of its interval, and what else is said."""

    letter: str
    words: str
    interval: str
    notes: tuple[str, ...] = ()


@lru_cache(maxsize=8192)
def acts_in_cell(cell: str) -> tuple[Act, ...]:
    """Return each act of a cell with its interval, () where it holds none."""
    text = cell.replace(" | ", "; ")
    if found := _lettered(text):
        return found
    pieces = pieces_of(bare_of(text)) if text else []
    acts: list[Act] = []
    interval, act = "", ""
    notes: list[str] = []
    for at, piece in enumerate(pieces):
        after = pieces[at + 1] if at + 1 < len(pieces) else None
        opens = piece.has_act or (not piece.is_timed and bool(acts_of(piece.text)))
        if opens and act and interval:
            acts.append(Act("", act, interval, tuple(notes)))
            act, interval, notes = "", "", []
        if piece.has_act:
            act, interval = " ".join(filter(None, [act, piece.words])), piece.said
        elif piece.is_timed or piece.kind in ("number", "rider"):
            interval += piece.whole if interval else piece.text
        elif (bare := NUMBERED.fullmatch(piece.text)) and acts_of(bare[1]) and not interval:
            act, interval = bare[1], bare[2]
        elif not act and _names_act(piece, after, interval):
            act = piece.text
        else:
            notes.append(piece.text)
    if act and interval:
        acts.append(Act("", act, interval, tuple(notes)))
        return tuple(acts)
    return ()


def _names_act(piece: Piece, after: Piece | None, interval: str) -> bool:
    """Whether a part is the act of the interval beside it: `check: weekly`, `500 h: change`."""
    beside = bool(interval) or (after is not None and after.is_timed)
    return beside and not piece.bracketed and bool(acts_of(piece.text))


def _lettered(text: str) -> tuple[Act, ...]:
    """Acts by their letters: `C 50, R 500 h or 2 y`."""
    found = list(LETTERED.finditer(text))
    if not found or found[0].start():
        return ()
    acts = []
    for at, each in enumerate(found):
        end = found[at + 1].start() if at + 1 < len(found) else len(text)
        interval = text[each.end() : end].strip(" ,;/+&|")
        pieces = pieces_of(bare_of(interval)) if interval else []
        if not pieces or not all(piece.kind in ("interval", "number") for piece in pieces):
            return ()
        acts.append(Act(each[1], "", interval))
    return tuple(acts)


def are_act_cells(cells: Sequence[str], heading: str = "") -> bool:
    """Whether most cells of a column hold acts with their intervals, in words or by usual letters.

    Where the heading says who does it, a cell may hold the interval alone.
    """
    said = [cell for cell in cells if cell and plain(cell) not in NOTHING]
    read = [acts_in_cell(cell) for cell in said]
    lettered = [act.letter for acts in read for act in acts if act.letter]
    if lettered and (len(said) < 2 or any(letter[0] not in GUESSES for letter in lettered)):
        return False
    alone = sum(not acts and is_interval(cell) for acts, cell in zip(read, said, strict=True))
    count = sum(map(bool, read)) + (alone if is_who(heading) else 0)
    return any(read) and count >= MOSTLY * len(said)
