"""The heading of a column in a maker's table: which interval it stands for, or what else it holds."""

import re
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache

from servicing.planning import table_heading_words as heads
from servicing.planning import table_words as words
from servicing.planning.table_doubts import BARE, RANGE, SEVERAL, UNITLESS, WEEKLY, Reading, Said
from servicing.planning.table_intervals import (
    FEWEST_BARE,
    read_interval,
    units_in,
)
from servicing.planning.table_marks import Marked
from servicing.planning.table_words import HOURS, MONTHS, YEARS, plain

TASK, PAGE, NOTE, INTERVAL = "task", "page", "note", "interval"
ITEM, ACT, SPEC, TEXT, WHEN, OCCASION = "item", "act", "spec", "text", "when", "occasion"
UNREAD = "unread"  # the number of a row, or a column nobody can read
CONDITIONS = {
    "dust": ("dust", "dusty", "severe", "severe dust"),
    "wet": ("wet", "mud", "water"),
    "heavy": ("heavy", "heavy load", "heavy duty"),
}
PAGE_WORDS = {"page", "pages", "manual page", "p", "pg", "ref page", "reference page", "see page"}
NOTE_WORDS = {"note", "notes", "remark", "remarks", "footnote", "footnotes", "comment", "comments"}
ROW_NUMBER_WORDS = {"no", "nr", "#", "item no", "row"}
UNITS = {
    HOURS: ("h", "hr", "hrs", "hour", "hours", "hours of use", "operating hours"),
    MONTHS: ("mo", "mos", "mth", "mths", "month", "months"),
    YEARS: ("y", "yr", "yrs", "year", "years"),
}
# hours for a day and a week as tables pair them: "10 hours or daily", "50 hours or weekly" (common practice,
# no source)
WORDS: dict[str, tuple[str, Decimal]] = {
    **dict.fromkeys(("daily", "each day", "every day", "each use", "before each use"), (HOURS, Decimal(10))),
    **dict.fromkeys(("weekly", "each week", "every week"), (HOURS, Decimal(50))),
    **dict.fromkeys(("monthly", "each month", "every month"), (MONTHS, Decimal(1))),
    **dict.fromkeys(("quarterly", "every quarter"), (MONTHS, Decimal(3))),
    **dict.fromkeys(("yearly", "annually", "annual", "each year", "every year"), (MONTHS, Decimal(12))),
}
FIRST = (
    "at first",
    "after the first",
    "after first",
    "first",
    "initial",
    "initially",
    "new",
    "running-in",
    "break-in",
)
EVERY = ("every", "each", "after every", "at")
NUMBER = re.compile(r"(\d{1,3}(?:[ ,\u202f\u00a0]\d{3})+|\d+)(?:\.(\d{1,2}))?\s*([a-z ]*)")
MOST_MONTHS = 600
HARD = "hard"  # hard use, of which a person says whether it is dust or heavy work
KINDS: dict[str, frozenset[str]] = {
    PAGE: heads.PAGE_HEADINGS,
    NOTE: heads.NOTE_HEADINGS,
    UNREAD: heads.NUMBER_HEADINGS,
    TEXT: heads.INTERVAL_HEADINGS,
    OCCASION: frozenset(("occasion", "occasions", "anlass")),
}
NORMAL_USE = re.compile(
    r"normal(?: use| operation| conditions| service| duty)?|standard|normalbetrieb"
    r"|normaler (?:einsatz|betrieb)"
    r"|normale bedingungen|usage normal|conditions normales|uso normal|condiciones normales|uso normale"
    r"|condizioni normali|normaal gebruik|normale omstandigheden"
)
UNIT_HEADING = re.compile(
    rf"(?:{words.EVERY.pattern}\s+)?(?:operating |working |service |engine )?"
    rf"(?:{words.UNITS[HOURS]}|{words.UNITS[MONTHS]}|{words.UNITS[YEARS]})"
    r"(?: of (?:operation|use)| de (?:service|fonctionnement|trabajo|funcionamiento)| di lavoro)?"
)
FIRST_HEADING = re.compile(
    rf"(?:{words.FIRST.pattern}|at|after|after the)(?: (?:time|service|change|maintenance|interval|mal"
    rf"|wartung|fois|vez|volta|keer|{words.AFTER.pattern}))*"
)
OR_FIRST = re.compile(rf"^{words.OR.pattern}\s+(?=\S)")  # "or every (months)" beside hours
THEN_HEADING = re.compile(
    rf"(?:{words.THEN.pattern}|{words.EVERY.pattern}|{words.REGULARLY.pattern})(?: {words.EVERY.pattern})?"
    r"(?: (?:interval|intervals|time|times|service|change|wartung|intervall))?"
)


@dataclass(frozen=True, slots=True)
class Column:
    """One column: an interval of hours, of months or of both; or the tasks, their pages, their notes.

    first: marks here are for the first time only. condition: the working condition it is for.
    said: what an interval's heading may mean. unit: what a bare number in its cells counts. act: what is
    done, where the heading says it. group: the heading above it. acts: whether its cells say what is done
    beside the interval. coded: whether they hold codes that a key explains.
    """

    kind: str
    heading: str = ""
    hours: Decimal | None = None
    months: int | None = None
    first: bool = False
    condition: str = "normal"
    said: Said | None = None
    unit: str | None = None
    act: str = ""
    group: str = ""
    acts: bool = False
    coded: bool = False

    @property
    def is_interval(self) -> bool:
        """Whether marks stand in it."""
        return self.kind == INTERVAL


def unit_of(over: str) -> str | None:
    """Return the unit that a heading over several columns names: hours, months, years or None."""
    said = re.findall(r"[a-z]+", plain(over))
    for unit in (HOURS, MONTHS, YEARS):
        names = [*UNITS[unit], *words.UNITS[unit].split("|")]
        if any(name in said for name in names if len(name) > 2 or name == "hr"):
            return unit
    return None


def _unit_in(heading: str) -> str | None:
    """The unit that a heading names beside its words, be it a letter in brackets: `Interval (h)`."""
    found = re.search(r"[(\[/]\s*([a-z]{1,4})\.?\s*[)\]]?$", heading.lower())
    return unit_of(heading) or (next(iter(units_in(found[1])), None) if found else None)


def read_heading(heading: str, *, unit: str | None = None, first: bool = False) -> Column:
    """Return what a heading stands for; one that can't be read as an interval, page or note is `task`.

    unit: what a bare number counts, hours when not said. first: a heading above says first time only.
    """
    if re.search(r"\d\s*[(\[:;]\s*\d", heading):
        return Column(TASK, heading)  # two numbers: `250 (125 severe)`
    said = re.sub(r"[():;]", " ", heading.lower()).strip(" .")
    said = re.sub(r"\s+", " ", said)
    if said in PAGE_WORDS:
        return Column(PAGE, heading)
    if said in NOTE_WORDS:
        return Column(NOTE, heading)
    if said in ROW_NUMBER_WORDS:
        return Column(UNREAD, heading)
    condition, said = _condition(said)
    first_here, said = _without(said, FIRST)
    _, said = _without(said, EVERY)
    amounts: dict[str, Decimal] = {}
    for part in re.split(r"\s*(?:\bor\b|/|\band\b|,(?!\d{3}))\s*", said):
        amount = _amount(_without(part, EVERY)[1], unit or HOURS)
        if amount is None:
            return Column(TASK, heading)
        amounts[amount[0]] = min(amount[1], amounts.get(*amount))  # "10 hours or daily"
    hours, months = amounts.get(HOURS), amounts.get(MONTHS)
    if hours == 0 or (months is not None and not (0 < months <= MOST_MONTHS and months == int(months))):
        return Column(TASK, heading)
    return Column(
        INTERVAL, heading, hours, None if months is None else int(months), first or first_here, condition
    )


@lru_cache(maxsize=8192)
def read_kind(heading: str, *, unit: str | None = None, first: bool = False) -> Column:
    """Return what a heading in any of six languages stands for; `task` where it is none of the rest.

    unit, first: as for `read_heading`. An interval that isn't certain has its readings in `said`.
    """
    column = read_heading(heading, unit=unit, first=first)
    said = read_interval(heading, unit=unit, first=True if first else None)
    if column.is_interval:
        doubtful = said is not None and said.doubt in (RANGE, SEVERAL, WEEKLY)
        mark = Marked(column.hours, column.months, column.first, column.condition)
        if unit is None and heading.strip().isdigit() and int(heading) < FEWEST_BARE:
            count = int(heading)
            ways = (mark, Marked(months=count, first=first), Marked(months=count * 12, first=first))
            return replace(column, said=Said(tuple(Reading((way,)) for way in ways), UNITLESS))
        return replace(column, said=said if doubtful else Said((Reading((mark,)),)))
    if column.kind != TASK or not heading:
        return column
    bare = plain(re.sub(r"\([^)]*\)", " ", heading)).strip(" .:*") or plain(heading).strip(" ().:")
    bare = OR_FIRST.sub("", bare)
    for kind, names in KINDS.items():
        if bare in names or bare.replace(".", "") in names:  # "Ref. page"
            return Column(kind, heading, unit=_unit_in(heading))
    if bare in heads.SPEC_WORDS:
        return Column(SPEC, heading)
    if said is not None and any(reading.marks for reading in said.readings):
        if said.doubt == BARE:  # beside other columns, "after 50 h" is the first time
            said = replace(said, readings=(said.readings[1], said.readings[0], *said.readings[2:]))
        marks = said.first.marks
        hours = next((mark.hours for mark in marks if mark.hours), None)
        months = next((mark.months for mark in marks if mark.months), None)
        only_first = first or all(mark.first for mark in marks)
        return Column(INTERVAL, heading, hours, months, only_first, said=said)
    if said is not None and said.first.when and said.first.when != "as written":
        return Column(WHEN, heading, said=said)
    if words.HARD_USE.search(bare) and not words.act_of(bare):
        return Column(TEXT, heading, condition=HARD, unit=unit)
    for condition, pattern in words.CONDITIONS.items():
        if pattern.search(bare) and not words.act_of(bare):
            return Column(TEXT, heading, condition=condition, unit=unit)
    if NORMAL_USE.fullmatch(bare):
        return Column(TEXT, heading, unit=unit)
    if UNIT_HEADING.fullmatch(bare):
        return Column(TEXT, heading, unit=unit_of(bare) or next(iter(units_in(bare)), None))
    if FIRST_HEADING.fullmatch(bare):
        return Column(TEXT, heading, first=True, unit=unit or _unit_in(heading))
    if THEN_HEADING.fullmatch(bare):
        return Column(TEXT, heading, unit=unit or _unit_in(heading))
    if bare not in heads.TASK_HEADINGS and any(each.fullmatch(bare) for each in words.ACTS.values()):
        return Column(TEXT, heading, act=heading, unit=unit)
    act = " ".join(words.EVERY.sub(" ", bare).split())  # "Check every"
    if act != bare and any(each.fullmatch(act) for each in words.ACTS.values()):
        return Column(TEXT, heading, act=act, unit=unit or _unit_in(heading))
    if any(word in bare.split() or word == bare for word in heads.SPEC_WORDS):
        return Column(SPEC, heading)
    kind = ITEM if bare in heads.ITEM_HEADINGS else ACT if bare in heads.ACT_HEADINGS else TASK
    return Column(kind, heading)


def _condition(said: str) -> tuple[str, str]:
    for condition, names in CONDITIONS.items():
        for name in sorted(names, key=len, reverse=True):
            rest = re.sub(rf"\b(?:in |for )?{name}\b", " ", said)
            if rest != said:
                return condition, " ".join(rest.split()).strip(" ,")
    return "normal", said


def _without(said: str, words: tuple[str, ...]) -> tuple[bool, str]:
    for word in sorted(words, key=len, reverse=True):
        rest = re.sub(rf"(?<![a-z]){word}(?![a-z])", " ", said)
        if rest != said and rest.strip():
            return True, " ".join(rest.split())
    return False, said


def _amount(said: str, bare: str) -> tuple[str, Decimal] | None:
    if said in WORDS:
        return WORDS[said]
    found = NUMBER.fullmatch(said)
    if not found:
        return None
    count = Decimal(f"{re.sub(r'[^0-9]', '', found[1])}.{found[2] or 0}")
    named = found[3].strip()
    unit = next((unit for unit, names in UNITS.items() if named in names), None) if named else bare
    if unit is None or count >= 10_000_000:
        return None
    return (MONTHS, count * 12) if unit == YEARS else (unit, count)
