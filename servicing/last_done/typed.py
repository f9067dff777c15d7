"""What a person writes into one cell: hours, a day, both, or that nobody knows."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date
from decimal import Decimal

from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.core.number_reader import TYPED, NotANumber, TwoWays, read_typed
from fleet.imports.cell_days import DAY_FIRST, FIGURES, FIRST_DAY, MONTH_FIRST, Days, read_moment
from fleet.imports.cell_values import UNIT, Wrong
from fleet.imports.months import folded

UNKNOWN = {
    *("?", "??", "???", "unknown", "not known", "don't know", "unbekannt", "nicht bekannt", "weiss nicht"),
    *("inconnu", "pas connu", "desconocido", "no se sabe", "sconosciuto", "non si sa", "onbekend"),
}
THOUSANDS = re.compile(r"[+-]?\d{1,3}(?:[\s'’]\d{3})+(?:[.,]\d+)?")
YEAR = re.compile(r"(?:19|20)\d{2}")
BETWEEN = re.compile(r"[\s,;/@|]*\s(?:(?:at|on|am|bei|a|le|el|il|op|bij|,|;|@|/|\|)\s+)*|\s*[;|@,]\s*")
DAY_AND_MONTH = re.compile(r"(\d{1,2})\.(\d{1,2})")
LONGEST = 60  # characters
MOST_HOURS = Decimal("9999999.99")


@dataclass(frozen=True, slots=True)
class Said:
    """When work was last done: at `hours` total hours, on the day `on`, either alone; or `unknown`."""

    hours: Decimal | None = None
    on: date | None = None
    unknown: bool = False


def read_cell(text: str, order: str = "") -> Said | None:
    """Return what a cell says; None for an empty one.

    order: how days are written, "dmy" or "mdy"; empty where nobody has said. A month or a year without its
    day is its first. Raises FleetError for what can't be read, or in two ways.
    """
    text = " ".join(text.split())
    if not text:
        return None
    if folded(text).strip(" .!") in UNKNOWN or text in UNKNOWN:
        return Said(unknown=True)
    if len(text) > LONGEST:
        raise _unreadable(text)
    refused: list[FleetError] = []
    found = _meant([(text, "")], order, refused) or _meant(_parts(text), order, refused)
    if len(found) == 1:
        return found.pop()
    if len(found) > 1:
        said_twice = _("“{typed}” can be hours or a year: write {typed} h, or a day like {day}.")
        raise FleetError(said_twice.format(typed=text, day="2026-05-03"))
    if refused:
        raise refused[0]
    raise _unreadable(text)


def _meant(parts: Iterable[tuple[str, str]], order: str, refused: list[FleetError]) -> set[Said]:
    """What the parts can say, one of them hours, the other a day; what reads in two ways is noted."""
    found = set()
    for one, other in parts:
        for hours, day in ((one, other), (other, one)):
            try:
                found.add(Said(_hours(hours) if hours else None, _day(day, order) if day else None))
            except (TwoWays, _Ambiguous) as error:
                refused.append(error)
            except (FleetError, Wrong):
                continue
    return found


class _Ambiguous(FleetError):
    """A day that one person reads otherwise than the next."""


def _parts(text: str) -> Iterator[tuple[str, str]]:
    """Every way of parting it in two."""
    for match in BETWEEN.finditer(text):
        if match.start() and match.end() < len(text):
            yield text[: match.start()], text[match.end() :]


def _hours(text: str) -> Decimal:
    bare = UNIT.sub("", text).strip()
    match = DAY_AND_MONTH.fullmatch(text)
    if match and int(match[1]) <= 31 and int(match[2]) <= 12:
        said = _("“{typed}” can be hours or a day without its year: write {typed} h, or a day like {day}.")
        raise _Ambiguous(said.format(typed=text, day="2026-05-03"))
    if re.search(r"\s", bare) and not THOUSANDS.fullmatch(bare):
        raise NotANumber(text)
    hours = read_typed(bare)
    exponent = hours.as_tuple().exponent
    if hours < 0 or hours > MOST_HOURS or not isinstance(exponent, int) or exponent < -2:
        raise NotANumber(text)
    return hours


def _day(text: str, order: str) -> date:
    if TYPED.fullmatch(text) and not YEAR.fullmatch(text) and not re.fullmatch(r"\d{1,2}\.\d{4}", text):
        raise Wrong  # a bare number is no spreadsheet's day here
    match = FIGURES.fullmatch(text)
    if match and not order and match[2] != "." and match[1] != match[3]:
        first, second = int(match[1]), int(match[3])
        if first <= 12 and second <= 12:
            said = _("“{typed}” can be two days: write it like {day}.")
            raise _Ambiguous(said.format(typed=text, day="2026-05-03"))
        order = DAY_FIRST if first > 12 else MONTH_FIRST
    days = Days(order or DAY_FIRST, within=FIRST_DAY)
    return read_moment(text, None, days, UTC).date()


def _unreadable(text: str) -> FleetError:
    said = _("“{typed}” can't be read. Write hours, a day or both: 1204.5 h 2026-05-03. ? if nobody knows.")
    return FleetError(said.format(typed=text[:LONGEST]))
