"""The heading of a column in a maker's table: which interval it stands for, or what else it holds."""

import re
from dataclasses import dataclass
from decimal import Decimal

HOURS, MONTHS, YEARS = "hours", "months", "years"
TASK, PAGE, NOTE, INTERVAL = "task", "page", "note", "interval"
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


@dataclass(frozen=True, slots=True)
class Column:
    """One column: an interval of hours, of months or of both; or the tasks, their pages, their notes.

    first: marks here are for the first time only. condition: the working condition it is for.
    """

    kind: str
    heading: str = ""
    hours: Decimal | None = None
    months: int | None = None
    first: bool = False
    condition: str = "normal"

    @property
    def is_interval(self) -> bool:
        """Whether marks stand in it."""
        return self.kind == INTERVAL


def unit_of(words: str) -> str | None:
    """Return the unit that a heading over several columns names: hours, months, years or None."""
    said = re.findall(r"[a-z]+", words.lower())
    for unit, names in UNITS.items():
        if any(name in said for name in names if len(name) > 1):
            return unit
    return None


def read_heading(heading: str, *, unit: str | None = None, first: bool = False) -> Column:
    """Return what a heading stands for; one that can't be read as an interval, page or note is `task`.

    unit: what a bare number counts, hours when not said. first: a heading above says first time only.
    """
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
