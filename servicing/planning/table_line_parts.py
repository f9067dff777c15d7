"""The parts of a line that somebody typed: intervals, pages, acts with an interval, and words."""

import re
from dataclasses import dataclass
from functools import lru_cache

from servicing.planning import table_words as words
from servicing.planning.intervals import NORMAL
from servicing.planning.table_doubts import Said
from servicing.planning.table_intervals import (
    ANY_UNIT,
    NUMBER_WORDS,
    UNIT_ALONE,
    UNIT_OF_ONE,
    figures_alone,
    read_interval,
    units_in,
)
from servicing.planning.table_words import acts_of, plain

BULLET = re.compile(r"^\s*((?:[•●▪■□◦·*–—-]|☐|\[\s?\]|\d{1,2}(?:\.\d{1,2})*[.)]|[a-z]\))\s+)(?=\S)")
DIVIDER = re.compile(
    r"\s*(?:->|=>|→)\s*|\s+[-–—=|]+\s*|\s*[–—]+\s+|(?<=\w)-+\s+(?=\d)"
    r"|:\s+|:$|;\s*|,\s+|\s*\.{3,}\s*|\s*…+\s*|\.\s+(?=[A-Z])|\s{2,}"
)
SIGN = re.compile(rf"[(\[/]|{DIVIDER.pattern}")
BRACKETS = re.compile(r"[(\[]([^()\[\]]*)[)\]]")
PAGE = re.compile(
    r"(?:see |siehe |voir |ver |vedi |zie )?(?:on )?(?:pages?|pp?|pg|s|seite|pagina|página|pag|pág|blz)\b\.?"
    r"\s*([A-Z]{0,2}[-–.]?\d[\w.–-]*)",
    re.I,
)
PAGE_AT_END = re.compile(
    r"(?<=\s)(?:see |siehe |voir |ver |vedi |zie )?"
    r"(?:pages?|pp?\.?|pg\.?|[sS]\.|seite|pág(?:ina|\.)|pag(?:ina|\.)|blz\.?)\s?(\d[\w.–-]*)$",
    re.I,
)
TIMED = re.compile(rf"\d\s?(?:{ANY_UNIT})(?![a-z])")
RIDER = re.compile(rf"{words.ONCE.pattern}|{words.WHICHEVER.pattern}|{words.FIRST.pattern}")
NUMBERED = re.compile(r"(\D*[^\W\d_])\s+(\d{2,5})")
SLASH = re.compile(r"\s*/\s*(?=([^\W\d_]+))")
NUMBER = re.compile(r"\d{2,5}\s*\??")
RANGE = re.compile(r"(?:^|\s)(\d+)\s*$")
COUNTED = tuple(pattern for pattern, _figure in NUMBER_WORDS)  # "every two years"
DURING = re.compile(r"(?:^| )(?:for|fur|wahrend|pendant|durante|por|per|voor|within)$")  # "for 4 h"
MOST_WORDS = 30  # of a part that holds an interval; a longer one is prose
MOST_WAYS = 24  # to part words and an interval, that are tried
MOST_OF_RANGE = 4  # "40 - 50 h" is a range, "belt 2 - 500 h" is none
WHO = re.compile(
    r"(?:by )?(?:the )?(?:op|oper|conc|bed|werkst|operators?|drivers?|users?|owners?|dealers?|workshop"
    r"|mechanics?|technician"
    r"|bediener|fahrer|anwender|betreiber|handler|werkstatt|fachwerkstatt|kundendienst|mechaniker"
    r"|utilisateur|conducteur|operateur|concessionnaire|atelier|mecanicien"
    r"|operador|usuario|conductor|concesionario|taller|mecanico"
    r"|operatore|utente|conducente|concessionario|officina|meccanico"
    r"|bestuurder|gebruiker|machinist|werkplaats|monteur)"
)


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a line between two dividers. kind: interval, number, page, act, mixed, rider or words.

    act: an act and its interval, `check daily`; mixed: other words beside an interval; rider: what goes
    with the interval before it, `once only`. said: the interval's
    words; words: the others. after: what divides it from the next.
    """

    kind: str
    text: str
    start: int
    end: int
    said: str = ""
    words: str = ""
    page: str = ""
    after: str = ""
    bracketed: bool = False

    @property
    def has_act(self) -> bool:
        """Whether it names an act beside its interval."""
        own = self.kind == "act" or (self.kind == "mixed" and self.words != self.said)
        return own and bool(acts_of(self.words))

    @property
    def leads(self) -> bool:
        """Whether its interval stands before its other words."""
        return bool(self.said) and self.text.startswith(self.said)

    @property
    def is_timed(self) -> bool:
        """Whether an interval stands in it."""
        return self.kind in ("interval", "act", "mixed")

    @property
    def whole(self) -> str:
        """Its words as a further part of an interval's cell."""
        return f" ({self.text})" if self.bracketed else f", {self.text}"

    @property
    def is_who(self) -> bool:
        """Whether it says no more than who does the work."""
        return is_who(self.text)


def is_who(said: str) -> bool:
    """Whether words say no more than who does the work."""
    return bool(WHO.fullmatch(re.sub(r"\s*\([^)]*\)", "", plain(said)).strip(" .:")))


def bullet_of(line: str) -> tuple[str, str]:
    """Return a line's bullet or number and the rest of its words."""
    text = line.replace("\u00a0", " ").expandtabs().strip()
    found = BULLET.match(text)
    return (found[1].strip(), text[found.end() :].strip()) if found else ("", text)


def pieces_of(text: str) -> list[Piece]:
    """Part a line's words at its dividers and brackets, and say what each part is."""
    spans: list[tuple[int, int, str, bool]] = []
    start = at = 0
    brackets = {found.start(): found for found in BRACKETS.finditer(text)}
    while at < len(text):
        if (sign := SIGN.search(text, at)) is None:
            break
        at = sign.start()
        if bracket := brackets.get(at):
            spans.append((start, at, "", False))
            inner = _inside(bracket)
            spans += inner or [(bracket.start(1), bracket.end(1), "", True)]
            start = at = bracket.end()
        elif (divider := DIVIDER.match(text, at)) and not _is_range(text[start:at], text[divider.end() :]):
            spans.append((start, at, divider[0].strip() or " ", False))
            start = at = max(divider.end(), at + 1)
        elif (slash := SLASH.match(text, at)) and acts_of(slash[1]) and _kind(text[start:at].strip())[1]:
            spans.append((start, at, "/", False))  # "clean 50 h / replace 500 h"
            start = at = slash.end()
        else:
            at += 1
    spans.append((start, len(text), "", False))
    return [
        piece
        for start, end, after, bracketed in spans
        if text[start:end].strip(" .,;:")
        for piece in _pieces(text, start, end, after, bracketed)
    ]


def _inside(bracket: re.Match[str]) -> list[tuple[int, int, str, bool]]:
    """The parts of a bracket that holds several acts, each with its interval."""
    pieces = pieces_of(bracket[1])
    own = any(piece.has_act or piece.kind == "interval" for piece in pieces)
    if not own or len(pieces) == 1:
        return []
    at = bracket.start(1)
    return [(at + piece.start, at + piece.end, piece.after, True) for piece in pieces]


def _is_range(before: str, after: str) -> bool:
    low, high = RANGE.search(before), re.match(r"\d+", after)
    return bool(low and high and int(low[1]) < int(high[0]) <= MOST_OF_RANGE * int(low[1]))


def _pieces(text: str, start: int, end: int, after: str, bracketed: bool) -> list[Piece]:
    said = text[start:end]
    while said[:1].isspace():
        said, start = said[1:], start + 1
    said = said.rstrip(" .,;")
    if (page := PAGE_AT_END.search(said)) and not PAGE.fullmatch(said):
        words_here = said[: page.start()].rstrip()
        first = _piece(words_here, start, start + len(words_here), " ", bracketed)
        return [first, Piece("page", page[0], start + page.start(), end, page=page[1], after=after)]
    return [_piece(said, start, start + len(said), after, bracketed)]


def _piece(said: str, start: int, end: int, after: str, bracketed: bool) -> Piece:
    if found := PAGE.fullmatch(said):
        return Piece("page", said, start, end, page=found[1], after=after, bracketed=bracketed)
    kind, interval, others = _kind(said)
    return Piece(kind, said, start, end, interval, others, "", after, bracketed)


@lru_cache(maxsize=4096)
def _kind(said: str) -> tuple[str, str, str]:
    """What a part is, the words of its interval, and the others."""
    if NUMBER.fullmatch(said):
        return "number", said, ""
    if is_interval(said):
        return "interval", said, ""
    if (bare := NUMBERED.fullmatch(said)) and " " not in bare[1] and _is_act(bare[1]):
        return "act", bare[2], bare[1]
    if RIDER.search(plain(said)) and figures_alone(plain(said)):
        return "rider", said, ""
    if parted := _parted(said):
        others, interval = parted
        return ("act" if _is_act(others) else "mixed"), interval, others
    return "words", "", ""


def _is_act(said: str) -> bool:
    """Whether words name an act and nothing it is done to."""
    act = plain(said)
    for pattern in words.ACTS.values():
        act = pattern.sub(" ", act)
    act = words.STOP.sub(" ", words.OR.sub(" ", act))
    return bool(acts_of(said)) and not re.search(r"\w", act)


def is_interval(said: str) -> bool:
    """Whether words are an interval and nothing else, be it one that is asked; a bare number is none."""
    text = plain(said).rstrip("?")
    if not may_hold(text):
        return False
    found = read_interval(text)
    return found is not None and _is_timed(text, found) and not found.rest


def is_conditional(said: str) -> bool:
    """Whether an interval holds only where work is hard: `in dust every 50 h`."""
    found = read_interval(said)
    marks = [mark for reading in found.readings for mark in reading.marks] if found else []
    return bool(marks) and all(mark.condition != NORMAL for mark in marks)


def is_first(said: str) -> bool:
    """Whether an interval is the first time only: `first at 50 h`."""
    found = read_interval(said)
    return found is not None and bool(found.first.marks) and all(mark.first for mark in found.first.marks)


def _is_timed(said: str, found: Said) -> bool:
    if any(reading.when and reading.when != "as written" for reading in found.readings):
        return True
    if found.doubt in ("weeks", "km", "event") and not figures_alone(said):
        return False
    named = bool(units_in(said)) or any(each.search(said) for each in words.WORD_INTERVALS.values())
    return named and (any(reading.marks for reading in found.readings) or found.doubt in ("weeks", "km"))


def _parted(said: str) -> tuple[str, str] | None:
    """Part `change oil every 500 h` or `500 h change oil` into words and interval; None: it holds none."""
    each = said.split()
    if len(each) > MOST_WORDS or not may_hold(plain(said)):
        return None
    begins = [at for at in range(1, len(each)) if _begins(" ".join(each[at:]))]
    ends = [end for end in range(len(each) - 1, 0, -1) if _ends(" ".join(each[:end]))]
    ways = [(at, len(each)) for at in begins] + [(0, end) for end in ends]
    ways += [(at, end) for at in begins for end in ends if at < end]  # "Kühlmittel alle 4 Jahre ersetzen"
    for at, end in ways[:MOST_WAYS]:
        interval = " ".join(each[at:end])
        goes_on = end < len(each) and bool(words.OR.fullmatch(plain(each[end])))
        if is_interval(interval) and at and goes_on:  # "every 100 h or when blocked"
            return " ".join(each[:at]), " ".join(each[at:])
        if is_interval(interval):
            return _with_words(said, " ".join([*each[:at], *each[end:]]), interval)
    found = read_interval(said)  # "dusty sites 250 h"
    if found and any(mark.condition != NORMAL for reading in found.readings for mark in reading.marks):
        return (said, said) if _is_timed(plain(said), found) else None
    return None


def may_hold(text: str) -> bool:
    """Whether an interval may stand in words: a number with its unit, or a word like daily."""
    patterns = (*words.WORD_INTERVALS.values(), *words.WHEN.values(), UNIT_OF_ONE, *COUNTED)
    return bool(TIMED.search(text)) or any(each.search(text) for each in patterns)


def _with_words(said: str, others: str, interval: str) -> tuple[str, str]:
    """The words beside an interval and the interval; the whole twice where they say another one."""
    text = plain(others)
    worded = (*words.WORD_INTERVALS.values(), *words.WHEN.values())
    if DURING.search(text) or TIMED.search(text) or any(each.search(text) for each in worded):
        return said, said
    return re.sub(r"(?:\s+(?:à|a|ad|at|om|bei|na))?[\s@~/|]*$", "", others), interval


def _begins(said: str) -> bool:
    """Whether words begin as an interval does."""
    text = plain(said)
    if re.match(r"(?:new|neu|service|inspection)\b", text):
        return False
    patterns = (*words.WORD_INTERVALS.values(), *words.WHEN.values(), *words.CONDITIONS.values())
    grammar = (words.EVERY, words.FIRST, words.AFTER, words.ONCE)
    return bool(re.match(r"[~\d]", text)) or any(each.match(text) for each in (*patterns, *grammar))


def _ends(said: str) -> bool:
    """Whether words end as an interval does, with its unit."""
    text = plain(said).rstrip(".")
    patterns = (*words.WORD_INTERVALS.values(), *words.WHEN.values())
    ends = any(found.end() == len(text) for each in patterns for found in each.finditer(text))
    spaced = re.sub(r"(?<=\d)(?=[a-z])", " ", text)
    return ends or any(found.end() == len(spaced) for found in UNIT_ALONE.finditer(spaced))
