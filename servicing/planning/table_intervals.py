"""An interval in words: `first 50 h, then every 200 h`, `alle 500 Std. oder jährlich`, `as required`.

What can be read in one way only is one reading; what can't, several, the likeliest first. Words that are no
part of an interval are never thrown away: the caller keeps the cell's words on the task.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache

from servicing.planning import table_words as words
from servicing.planning.intervals import DAILY_HOURS, NORMAL
from servicing.planning.table_doubts import (
    BARE,
    EVENT,
    KM,
    LATER,
    LOOSE,
    RANGE,
    SEVERAL,
    SEVERE,
    UNITLESS,
    WEEKLY,
    Reading,
    Said,
)
from servicing.planning.table_marks import Marked
from servicing.planning.table_words import DAYS, DISTANCE, HOURS, MONTHS, WEEKS, YEARS, plain

FIGURE = r"\d{1,3}(?:[ .,'\u202f]\d{3})+(?!\d)|\d+(?:[.,]\d{1,2})?(?!\d)"
ANY_UNIT = "|".join(words.UNITS.values())
AMOUNT = re.compile(
    rf"(?<![\w.,])(?P<low>{FIGURE})\s*(?:{words.RANGE}\s*(?P<high>{FIGURE})\s*)?"
    rf"(?:\s*(?P<unit>{ANY_UNIT})(?![a-z])\.?)?"
)
UNIT_ALONE = re.compile(rf"(?<![\w.,])(?P<unit>{ANY_UNIT})(?![a-z])\.?")
PARTS = re.compile(r"\s*[;()\[\]\n:]\s*|\.\s+|,\s+|\s[–—-]\s|\.$")
NUMBER_WORDS = [
    (re.compile(rf"(?<![a-z])(?:{said})\s+(?=(?:{ANY_UNIT})(?![a-z]))"), str(number))
    for number, said in words.NUMBERS.items()
]
TIMES = re.compile(
    rf"(?<!\w)(\d)\s?(?:x|mal|times|fois|veces|volte|keer)\s*(?:a|per|pro|im|par|al|all'|/)?\s*"
    rf"(?:{words.UNITS[YEARS]}|jahrlich|yearly|annually)(?![a-z])"
)
GRAMMAR = (
    *(words.LIMIT, words.ONCE, words.FIRST, words.EVERY, words.AFTER, words.THEN, words.OR, words.STOP),
)
ABBREVIATED = re.compile(r"(?<=[\d\s])(std|stdn|hrs?|mos?|mon|mths?|yrs?|betriebsstd|bstd|mnd)\.(?=\s|,|$)")
KIND_OF_HOURS = re.compile(
    rf"({FIGURE})\s*(?:operating|operation|engine|machine|running|working|service|motor|betriebs)[ -]"
    rf"(?=(?:{words.UNITS[HOURS]})(?![a-z]))"
)
TURNED = re.compile(rf"({FIGURE})\s+({words.FIRST.pattern})\s+(?=(?:{ANY_UNIT})(?![a-z]))")
UNIT_OF_ONE = re.compile(
    rf"(?:{words.EVERY.pattern}|{words.FIRST.pattern})\s+"
    rf"(?P<unit>{words.UNITS[MONTHS]}|{words.UNITS[YEARS]}|{words.UNITS[WEEKS]})(?![a-z])"
)
LONGEST = 240  # longer words are a remark and no interval
FEWEST_BARE = 8  # a smaller number without a unit may well count months or years
MOST_MONTHS, MOST_HOURS = 600, 10_000_000


def units_in(said: str) -> set[str]:
    """The units that words name: hours, months, years and the like, however short."""
    text = re.sub(r"(?<=\d)(?=[a-z])", " ", plain(said))
    return {unit for found in UNIT_ALONE.finditer(text) if (unit := _unit(found["unit"]))}


def without_unit(said: Said) -> Said:
    """Return hours that no word calls so as a doubt: they may be months or years."""
    ways: list[Reading] = []
    for kind in (HOURS, MONTHS, YEARS):
        counts = [(mark, _marked(kind, mark.hours)) for mark in said.first.marks if mark.hours is not None]
        marks = [replace(made, first=mark.first, condition=mark.condition) for mark, made in counts if made]
        if marks and len(marks) == len(counts):
            ways.append(Reading(tuple(marks)))
    return replace(said, readings=tuple(ways) or said.readings, doubt=UNITLESS)


@dataclass(slots=True)
class _Clause:
    """A part of the words, with what was found in it."""

    text: str
    marks: list[Marked]
    when: list[str]
    first: bool = False
    every: bool = False
    worded: bool = False
    after: bool = False
    then: bool = False
    condition: str = NORMAL
    doubts: dict[str, list[tuple[Marked, ...]]] | None = None
    rest: str = ""
    keep: bool = False

    def doubt(self, kind: str, *instead: tuple[Marked, ...]) -> None:
        self.doubts = {**(self.doubts or {}), kind: list(instead)}


@lru_cache(maxsize=8192)
def read_interval(
    said: str, *, unit: str | None = None, first: bool | None = None, acts: bool = False
) -> Said | None:
    """Return what words say of an interval; None where they hold none.

    unit: what a bare number counts, where a heading says so; else hours, and only where nothing but numbers
    stands there. first: whether the heading says it is for the first time only (None: it says nothing).
    acts: whether words like check or clean may stand there and are no doubt, as in a footnote.
    """
    text = plain(said)
    slipped = re.sub(r"(?<=\d)o+(?=\s|h)", lambda found: "0" * len(found[0]), text)  # "1OO h"
    slip, text = slipped != text or slipped.endswith("?"), slipped.rstrip("? ")
    if len(text) > LONGEST or not re.search(r"[a-z0-9]", text):
        return None
    text = words.ORDINAL.sub("first", text)
    later = bool(words.WHICHEVER_LAST.search(text))
    text = text if later else words.WHICHEVER.sub(" ", text)
    text = words.THEN.sub(" ; then; ", text) if not text.startswith("then") else text
    text = ABBREVIATED.sub(r"\1 ", text)
    for pattern, figure in NUMBER_WORDS:
        text = pattern.sub(f"{figure} ", text)
    text = KIND_OF_HOURS.sub(r"\1 ", text)
    text = TURNED.sub(r"\2 \1 ", text)
    plain_figures = figures_alone(text)
    clauses: list[_Clause] = []
    then, condition = False, NORMAL
    for part in (part.strip(" .-–") for part in PARTS.split(text)):
        if part == "then":
            then = True
        elif part:
            clause = _clause(part, unit, acts, plain_figures)
            if clause.condition != NORMAL and not clause.marks and not clause.rest:
                condition = clause.condition  # "in dust: every 50 h"
            elif clause.condition == NORMAL and condition != NORMAL and clause.marks:
                clause.condition, condition = condition, NORMAL
            clause.then = then or clause.then
            clauses.append(clause)
    _lend_first(clauses)
    found = _together(clauses, first=first, later=later)
    if found and any(clause.keep for clause in clauses):
        found = replace(found, keep=True)
    if slip and found and not found.doubt:
        found = Said((*found.readings, Reading((), "as written")), LOOSE, found.rest)
    return found


def figures_alone(text: str) -> bool:
    """Return whether no word stands beside the figures that is no part of an interval: `p. 12` is none."""
    for pattern in (
        *words.WORD_INTERVALS.values(),
        *words.WHEN.values(),
        *words.CONDITIONS.values(),
        *GRAMMAR,
    ):
        text = pattern.sub(" ", text)
    return not re.search(r"[a-z]", UNIT_ALONE.sub(" ", re.sub(r"\d", " ", text)))


def _lend_first(clauses: list[_Clause]) -> None:
    """Let `once` or `first` that stands alone say it of the clause before it, or else of the next."""
    for at, clause in enumerate(clauses):
        if clause.first and not clause.marks and not clause.rest:
            before = next((each for each in reversed(clauses[:at]) if each.marks), None)
            after = next((each for each in clauses[at + 1 :] if each.marks), None)
            if before and not before.every and not before.then:
                before.first = True
            elif after and not after.every and not after.then:
                after.first = True


def _clause(part: str, unit: str | None, acts: bool, plain_figures: bool) -> _Clause:
    found = _Clause(part, [], [])
    rest = part
    for condition, pattern in words.CONDITIONS.items():
        if pattern.search(rest):
            found.condition, rest = condition, pattern.sub(" ", rest)
            break
    else:
        if words.HARD_USE.search(rest):
            found.doubt(SEVERE)
    for when, pattern in words.WHEN.items():
        if pattern.search(rest):
            found.when.append(when)
            rest = pattern.sub(" ", rest)
    for (kind, count), pattern in words.WORD_INTERVALS.items():
        if match := pattern.search(rest):
            found.keep = kind == DAYS and match[0] not in words.DAILY_WORDS
            found.keep = found.keep or bool(re.fullmatch(words.EACH_SEASON, match[0]))
            rest = pattern.sub(" ", rest, count=1)
            found.every = found.worded = True
            _take(found, kind, Decimal(count), None)
    if times := TIMES.search(rest):
        rest = rest[: times.start()] + " " + rest[times.end() :]
        found.every = True
        _take(found, MONTHS, Decimal(12) / int(times[1]) if times[1] != "0" else Decimal(0), None)
    figures = rest
    for pattern in GRAMMAR:
        figures = pattern.sub(" ", figures)
    bare = unit or (HOURS if plain_figures and re.fullmatch(r"[\d .,/'-]+", figures.strip() or "-") else None)
    groups = []
    for amount in AMOUNT.finditer(rest):
        groups.append((amount, amount["unit"]))
    named = [_unit(name) for _amount, name in groups]
    # "50 / 200 h", "first 50 then every 200 h": a number borrows the unit that is named after it
    for at in range(len(named) - 2, -1, -1):
        between = rest[groups[at][0].end() : groups[at + 1][0].start()]
        parted = between.strip() != "" or named[at] == named[at + 1]
        if parted and re.fullmatch(r"[\s,/]*", words.OR.sub(" ", between)):
            named[at] = named[at] or named[at + 1]
    for (amount, _name), unit_named in zip(groups, named, strict=True):
        if unit_named is None and unit is None and bare and _number(amount["low"]) < FEWEST_BARE:
            small = _number(amount["low"])
            ways = (_marked(MONTHS, small), _marked(YEARS, small))
            found.doubt(UNITLESS, *((way,) for way in ways if way))
        kind_of = unit_named or bare
        if kind_of is None:
            continue
        rest = rest.replace(amount[0], " § ", 1)
        _take(found, kind_of, _number(amount["low"]), _number(amount["high"]) if amount["high"] else None)
    for alone in UNIT_OF_ONE.finditer(rest):
        found.every = found.every or bool(words.EVERY.match(alone[0]))
        _take(found, _unit(alone["unit"]) or MONTHS, Decimal(1), None)
    found.first = bool(words.FIRST.search(rest)) or bool(words.ONCE.search(rest))
    found.every = found.every or bool(words.EVERY.search(rest))
    found.after = bool(words.AFTER.search(rest))
    for pattern in GRAMMAR:
        rest = pattern.sub(" ", rest)
    if acts:
        for pattern in words.ACTS.values():
            rest = pattern.sub(" ", rest)
    rest = words.TIME_ONLY.sub(" ", rest) if found.first and found.marks else rest
    rest = UNIT_ALONE.sub(" ", rest) if found.marks else rest
    found.rest = " ".join(re.sub(r"[^a-z0-9 ]", " ", rest).split())
    if re.search(r"\d", found.rest) and not found.marks:
        found.doubt(EVENT)
    elif found.rest and found.marks and not found.doubts:
        found.doubt(LOOSE)
    return found


def _take(found: _Clause, kind: str, low: Decimal, high: Decimal | None) -> None:
    """Put an amount into a clause, with its doubts."""
    if kind == DISTANCE:
        found.doubt(KM)
        return
    if kind in (WEEKS, DAYS):
        _short(found, kind, low)
        return
    one = _marked(kind, low)
    if one is None or (high is not None and _marked(kind, high) is None):
        found.doubt(EVENT)
        return
    if high is not None:
        other = _marked(kind, high)
        found.doubt(RANGE, (one,), *([(other,)] if other else []))
    found.marks.append(one)


def _short(found: _Clause, kind: str, count: Decimal) -> None:
    """Weeks and days: whole quarters are months, a day is the daily round, the rest is asked."""
    if kind == DAYS and count == 1:
        found.marks.append(Marked(hours=DAILY_HOURS))
    elif kind == WEEKS and count > 0 and count % 13 == 0:
        found.marks.append(Marked(months=int(count // 13 * 3)))
    else:
        days = count * (7 if kind == WEEKS else 1)
        months = int(days // 28)
        instead = [(Marked(months=months),)] if 0 < months <= MOST_MONTHS else []
        if kind == WEEKS and count == 1:
            instead.append((Marked(hours=Decimal(50)),))
        found.doubt(WEEKLY, *instead)


def _marked(kind: str, count: Decimal) -> Marked | None:
    if kind == HOURS:
        return Marked(hours=count) if 0 < count < MOST_HOURS else None
    months = count * 12 if kind == YEARS else count
    whole = months == int(months) and 0 < months <= MOST_MONTHS
    return Marked(months=int(months)) if whole else None


def _unit(name: str | None) -> str | None:
    if not name:
        return None
    bare = name.rstrip(".")
    return next((unit for unit, names in words.UNITS.items() if bare in names.split("|")), None)


def _number(said: str) -> Decimal:
    if re.fullmatch(r"\d{1,3}(?:[ .,'\u202f]\d{3})+", said):
        return Decimal(re.sub(r"\D", "", said))
    return Decimal(said.replace(",", "."))


def _together(clauses: list[_Clause], *, first: bool | None, later: bool) -> Said | None:
    """Put the clauses together: first times, what comes round, what is done on a word; and the doubts."""
    marks: list[Marked] = []
    when = [each for clause in clauses for each in clause.when]
    doubts: dict[str, list[tuple[Marked, ...]]] = {}
    rest = False
    timed = [clause for clause in clauses if clause.marks]
    for clause in clauses:
        for kind, instead in (clause.doubts or {}).items():
            doubts.setdefault(kind, []).extend(instead)
        rest = rest or bool(clause.rest)
    for number, clause in enumerate(timed):
        followed = any(
            other.then or (other.every and not other.worded and other.condition == NORMAL)
            for other in timed[number + 1 :]
            if not other.first
        )
        only_first = clause.first and not clause.then
        only_first = only_first or (
            first is None and followed and not clause.every and not clause.then and clause.condition == NORMAL
        )
        if first is not None and not clause.then and not clause.every:
            only_first = only_first or first
        if len(timed) == 1 and clause.after and not (clause.first or clause.every or first is not None):
            doubts.setdefault(BARE, []).append(
                tuple(replace(mark, first=True, condition=clause.condition) for mark in clause.marks)
            )
        marks += [replace(mark, first=only_first, condition=clause.condition) for mark in clause.marks]
        if clause.first and clause.every and not clause.then:
            doubts.setdefault(LOOSE, [])
    if later:
        doubts[LATER] = []
    marks, extra = _smallest(marks, timed)
    if extra:
        doubts.setdefault(SEVERAL, []).extend(extra)
    if first and when and not marks:
        return None
    if not marks and not when:
        if KM in doubts or WEEKLY in doubts or EVENT in doubts:
            return _asked(next(iter(doubts)), [], doubts)
        return None
    reading = Reading(tuple(marks), " / ".join(dict.fromkeys(when)))
    doubts.pop(SEVERE, None) if not rest else None
    if not doubts:
        return Said((reading,), "", rest)
    return _asked(next(iter(doubts)), [reading], doubts, rest)


def _asked(
    doubt: str, readings: list[Reading], doubts: dict[str, list[tuple[Marked, ...]]], rest: bool = False
) -> Said:
    """Every reading there may be, and last the words alone."""
    found = list(readings)
    if doubt == SEVERE and readings:
        found = [
            Reading(tuple(replace(mark, condition=condition) for mark in readings[0].marks))
            for condition in ("dust", "heavy")
        ]
    found += [Reading(instead) for each in doubts.values() for instead in each]
    found.append(Reading((), "as written"))
    return Said(tuple(dict.fromkeys(found)), doubt, rest)


def _smallest(marks: list[Marked], timed: Iterable[_Clause]) -> tuple[list[Marked], list[tuple[Marked, ...]]]:
    """Leave of each kind the smallest: `10 h or daily`; where figures differ, say the other readings."""
    kept: dict[tuple[bool, str, bool], Marked] = {}
    larger: list[Marked] = []
    for mark in marks:
        key = _kind(mark)
        other = kept.get(key)
        if other is None:
            kept[key] = mark
        elif (mark.hours or mark.months) != (other.hours or other.months):
            low, high = sorted((mark, other), key=lambda each: (each.hours or 0, each.months or 0))
            kept[key] = low
            larger.append(high)
    found = list(kept.values())
    return found, [(*(each for each in found if _kind(each) != _kind(mark)), mark) for mark in larger]


def _kind(mark: Marked) -> tuple[bool, str, bool]:
    """First time or each time, the condition, hours or months: of one kind only one counts."""
    return (mark.first, mark.condition, mark.hours is None)
