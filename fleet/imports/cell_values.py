"""Figures and days as people write them in tables, read by the file's own habits."""

import re
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from decimal import Decimal

from django.utils.translation import gettext as _

from fleet.core.moment_reader import on_the_clocks, read_iso
from fleet.core.number_reader import APART, read_marked
from fleet.imports.table import Cell
from fleet.usage.figures import exact

DAY_FIRST, MONTH_FIRST = "dmy", "mdy"
UNIT = re.compile(rf"(?<=\d){APART}*(h|hr|hrs|hours)\.?{APART}*$", re.IGNORECASE)
NOON = time(12)

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
FIGURES = re.compile(r"(\d{1,2})([-/. ])(\d{1,2})\2(\d{4}|\d{2})")
NAMED = re.compile(r"(\d{1,2})[-/. ]*([A-Za-z]{3,9})\.?[-/., ]*(\d{4}|\d{2})")
NAMED_FIRST = re.compile(r"([A-Za-z]{3,9})\.? *(\d{1,2})(?:st|nd|rd|th)?,? +(\d{4})")
CLOCK = re.compile(r"(\d{1,2})[:.h](\d{2})(?::(\d{2})(?:\.\d+)?)? *([AaPp])?\.?(?:[Mm]\.?)?")


class Wrong(ValueError):
    """A cell can't be read; the text says so to a person."""


def read_number(cell: Cell, decimal: str) -> Decimal:
    """Read a number. `decimal` is the mark before its fraction; the other mark may part thousands.

    Raises Wrong.
    """
    if isinstance(cell, bool) or cell is None or cell == "":
        raise Wrong(_("The hours are missing."))
    if isinstance(cell, int | float):
        return exact(cell)
    if not isinstance(cell, str):
        raise Wrong(_("The hours hold a date. Format the cell as a number."))
    number = read_marked(UNIT.sub("", cell), decimal)
    if number is None:
        raise Wrong(_("“{cell}” is not a number of hours.").format(cell=_short(cell)))
    return number


def read_moment(cell: Cell, clock: Cell, order: str, zone: tzinfo) -> datetime:
    """Read a moment: a day, with the time in the same cell or in `clock`; noon where there is none.

    order: of day and month where figures leave it open. A time without an offset is on the clocks of `zone`,
    the first of the two where they show it twice. Raises Wrong.
    """
    if cell is None or cell == "":
        raise Wrong(_("The date is missing."))
    if isinstance(cell, datetime):
        found, has_time = cell, cell.time() != time(0)
    elif isinstance(cell, date):
        found, has_time = datetime.combine(cell, time(0)), False
    elif isinstance(cell, str):
        found, has_time = _from_text(cell.strip(), order)
    else:
        said = _("“{cell}” is not a date. Format the cell as a date.")
        raise Wrong(said.format(cell=_short(cell)))
    if not has_time:
        at = _clock(clock)
        found = datetime.combine(found.date(), at or NOON)
    moment = found if found.tzinfo else on_the_clocks(found, zone)
    if moment is None:
        raise Wrong(_("The clocks went forward over this time. Give another."))
    return moment


def _from_text(text: str, order: str) -> tuple[datetime, bool]:
    if (found := read_iso(text)) is not None:
        return found, len(text) > len("2026-05-03")
    for pattern in (ISO, FIGURES, NAMED, NAMED_FIRST):
        match = pattern.match(text)
        if match is None:
            continue
        rest = text[match.end() :].strip(" T,")
        try:
            day = _day(pattern, match, order)
            return (datetime.combine(day, _clock(rest)), True) if rest else (_midnight(day), False)  # type: ignore[arg-type]
        except ValueError:
            break
    raise Wrong(_("“{cell}” is not a date.").format(cell=_short(text)))


def _day(pattern: re.Pattern[str], match: re.Match[str], order: str) -> date:
    if pattern is ISO:
        year, month, day = (int(part) for part in match.groups())
        return date(year, month, day)
    if pattern is FIGURES:
        first, second, year = int(match[1]), int(match[3]), _year(match[4])
        return date(year, first, second) if order == MONTH_FIRST else date(year, second, first)
    if pattern is NAMED:
        return date(_year(match[3]), _month(match[2]), int(match[1]))
    return date(int(match[3]), _month(match[1]), int(match[2]))


def _month(word: str) -> int:
    return MONTHS.index(word[:3].lower()) + 1


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(0))


def _clock(cell: Cell) -> time | None:
    """A time of day, None where there is none. Raises Wrong."""
    if cell is None or cell == "":
        return None
    if isinstance(cell, datetime):
        return cell.time()
    if isinstance(cell, time):
        return cell
    if isinstance(cell, float | int) and 0 <= cell < 1:  # a spreadsheet's share of a day
        return (datetime(2000, 1, 1, tzinfo=UTC) + timedelta(seconds=round(cell * 86400))).time()
    match = CLOCK.fullmatch(str(cell).strip())
    if match is None:
        raise Wrong(_("“{cell}” is not a time of day.").format(cell=_short(cell)))
    hour = int(match[1])
    if match[4]:
        if not 1 <= hour <= 12:
            raise Wrong(_("“{cell}” is not a time of day.").format(cell=_short(cell)))
        hour = hour % 12 + (12 if match[4].lower() == "p" else 0)
    try:
        return time(hour, int(match[2]), int(match[3] or 0))
    except ValueError:
        raise Wrong(_("“{cell}” is not a time of day.").format(cell=_short(cell))) from None


def _short(cell: Cell) -> str:
    text = str(cell)
    return text if len(text) <= 40 else f"{text[:39]}…"
