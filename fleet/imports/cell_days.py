"""Days as people write them in tables, read by the file's own habits."""

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo

from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.moment_reader import on_the_clocks, read_iso
from fleet.imports.cell_values import Wrong, read_clock, short
from fleet.imports.months import month_of, weekdays
from fleet.imports.table import Cell

DAY_FIRST, MONTH_FIRST, YEAR_FIRST = "dmy", "mdy", "ymd"
FIRST_DAY, LAST_DAY = "first", "last"
NOON = time(12)
OLDEST_IN_SHORT = 15  # years ago: a year of two figures lies between then and the next one
SERIAL = (32_874, 73_050)  # a spreadsheet's days from 1899-12-30 on: 1990 to 2099
SERIAL_ZERO = datetime(1899, 12, 30)  # noqa: DTZ001 - a sheet's cells have no zone

WORD = r"[^\W\d_]{3,12}"
ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?!\d)")
FIGURES = re.compile(r"(\d{1,2})([-/. ]) ?(\d{1,2})\2 ?(\d{4}|\d{2})(?!\d)")
NAMED = re.compile(
    rf"(\d{{1,2}})(?:st|nd|rd|th|er|º|°)?[-/. ]*(?:de )?({WORD})\.?[-/., ]*(?:del? )?(\d{{4}}|\d{{2}})(?!\d)"
)
NAMED_FIRST = re.compile(
    rf"({WORD})\.? *(\d{{1,2}})(?:st|nd|rd|th)?(?:,? +(\d{{4}})|, *(\d{{2}})(?![\d:.h]| *[AaPp]\.?[Mm]))"
)
NO_YEAR = re.compile(r"(\d{1,2})([-/.]) ?(\d{1,2})\2?")
NAMED_NO_YEAR = re.compile(rf"(\d{{1,2}})(?:st|nd|rd|th|er|º|°)?[-/. ]*(?:de )?({WORD})\.?")
NAMED_FIRST_NO_YEAR = re.compile(rf"({WORD})\.? *(\d{{1,2}})(?:st|nd|rd|th)?")
MONTH = re.compile(rf"({WORD})\.?[-/., ']*(\d{{4}}|\d{{2}})")
MONTH_IN_FIGURES = re.compile(r"(\d{1,2})[-/.](\d{4})|(\d{4})[-/.](\d{1,2})")
YEAR = re.compile(r"(?:19|20)\d{2}")
AROUND_A_TIME = re.compile(
    r"^(?:um|at|om|[àa]|a las|alle|ore|[-–])\s+|\s*(?:uhr|o'clock|uur)$", re.IGNORECASE
)


END_OF_DAY = re.compile(r"24[:.h]00(?::00)?")  # ISO 8601-1: the midnight that ends the day
ARTICLE = re.compile(r"(?:le|el|il|den|der|am|the|on|op|em|no dia|el dia|vom) +(?=\S)", re.IGNORECASE)


class NoYear(Wrong):
    """A day without its year."""


class NoDay(Wrong):
    """A month or a year without its day."""


@dataclass(frozen=True, slots=True)
class Days:
    """How days are written. order: of day and month. year: of days that name none.

    within: which day of a month or a year stands for it. mixed: some are written the other way round, and are
    read so where they can be read no other way.
    """

    order: str = DAY_FIRST
    year: int | None = None
    within: str = ""
    mixed: bool = False


def read_moment(cell: Cell, clock: Cell, days: Days, zone: tzinfo) -> datetime:
    """Read a moment: a day, with the time in the same cell or in `clock`; noon where there is none.

    A time without an offset is on the clocks of `zone`, the first of the two where they show it twice. Raises
    Wrong, NoYear, NoDay.
    """
    found, has_time = _found(cell, days)
    if not has_time:
        ends = isinstance(clock, str) and END_OF_DAY.fullmatch(clock.strip())
        at = time(0) if ends else read_clock(clock)
        found = datetime.combine(found.date(), NOON if at is None else at) + timedelta(days=bool(ends))
    moment = found if found.tzinfo else on_the_clocks(found, zone)
    if moment is None:
        raise Wrong(_("The clocks went forward over this time. Give another."))
    return moment


def is_serial(cell: Cell) -> bool:
    """Whether a number can be a spreadsheet's day."""
    return isinstance(cell, int | float) and not isinstance(cell, bool) and SERIAL[0] <= cell < SERIAL[1]


def _found(cell: Cell, days: Days) -> tuple[datetime, bool]:
    if cell is None or cell == "":
        raise Wrong(_("The date is missing."))
    if isinstance(cell, datetime):
        return cell, cell.time() != time(0)
    if isinstance(cell, date):
        return _midnight(cell), False
    if isinstance(cell, int | float):
        return _from_number(cell, days)
    if isinstance(cell, str):
        text = cell.strip()
        if re.fullmatch(r"\d{5}(?:[.,]\d+)?", text):
            return _from_number(float(text.replace(",", ".")), days)
        return _from_text(text, days)
    raise _no_date(cell)


def _from_number(cell: float, days: Days) -> tuple[datetime, bool]:
    if is_serial(cell):
        found = SERIAL_ZERO + timedelta(seconds=round(cell * 86400))
        return found, found.time() != time(0)
    if isinstance(cell, int) and YEAR.fullmatch(str(cell)):
        return _from_text(str(cell), days)
    raise _no_date(cell)


def _from_text(text: str, days: Days) -> tuple[datetime, bool]:
    if (found := read_iso(text)) is not None and not YEAR.fullmatch(text):
        return found, len(text) > len("2026-05-03")
    ways = [days]
    if days.mixed:
        other = MONTH_FIRST if days.order == DAY_FIRST else DAY_FIRST
        ways.append(Days(other, days.year, days.within))
    for way in ways:
        for words, on in _with_and_without_weekday(text):
            read = _by_pattern(words, way)
            if read is not None and (not on or read[0].weekday() in on):
                return read
    for words, _on in _with_and_without_weekday(text):
        day = _part_of_a_day(words, days)
        if day is not None:
            return _midnight(day), False
    raise _no_date(text)


def _with_and_without_weekday(text: str) -> list[tuple[str, set[int]]]:
    """The text, and what stands after a day of the week with which days that may be."""
    text = ARTICLE.sub("", text, count=1) if ARTICLE.match(text) else text
    word, _blank, rest = text.replace(",", " ", 1).partition(" ")
    on = weekdays(word) if rest else set()
    return [(text, set()), (rest.strip(), on)] if on else [(text, set())]


def _by_pattern(text: str, days: Days) -> tuple[datetime, bool] | None:
    for pattern in (ISO, FIGURES, NAMED, NAMED_FIRST):
        match = pattern.match(text)
        if match is None:
            continue
        rest = AROUND_A_TIME.sub("", text[match.end() :].strip(" T,"))
        try:
            day = _day(pattern, match, days.order)
            ends = END_OF_DAY.fullmatch(rest) is not None
            clock = time(0) if ends else read_clock(rest)
            day += timedelta(days=ends)
        except ValueError:
            continue
        return (datetime.combine(day, clock), True) if clock is not None else (_midnight(day), False)
    return None


def _part_of_a_day(text: str, days: Days) -> date | None:
    """A day of what names no year, or no day; None where it is neither. Raises NoYear, NoDay."""
    try:
        for pattern in (NO_YEAR, NAMED_NO_YEAR, NAMED_FIRST_NO_YEAR):
            match = pattern.fullmatch(text)
            if match is None:
                continue
            if pattern is NO_YEAR:
                first, second = int(match[1]), int(match[3])
                month, day = (first, second) if days.order == MONTH_FIRST else (second, first)
            else:
                word, figures = (match[2], match[1]) if pattern is NAMED_NO_YEAR else (match[1], match[2])
                found = month_of(word)
                if found is None:
                    continue
                month, day = found, int(figures)
                if day > 31:
                    continue
            found_day = date(days.year or 2024, month, day)
            if days.year is None:
                raise NoYear(_("“{cell}” names no year.").format(cell=short(text)))
            return found_day
        span = _span(text)
    except NoYear:
        raise
    except ValueError:
        return None
    if span is None:
        return None
    if not days.within:
        raise NoDay(_("“{cell}” names no day.").format(cell=short(text)))
    return span[0] if days.within == FIRST_DAY else span[1]


def _span(text: str) -> tuple[date, date] | None:
    """The first and the last day of a month or a year; None where the text names neither."""
    if YEAR.fullmatch(text):
        return date(int(text), 1, 1), date(int(text), 12, 31)
    if (match := MONTH_IN_FIGURES.fullmatch(text)) is not None:
        month, year = int(match[1] or match[4]), int(match[2] or match[3])
    elif (match := MONTH.fullmatch(text)) is not None and (named := month_of(match[1])):
        month, year = named, _year(match[2])
    else:
        return None
    return date(year, month, 1), date(year, month, monthrange(year, month)[1])


def _day(pattern: re.Pattern[str], match: re.Match[str], order: str) -> date:
    if pattern is ISO:
        year, month, day = (int(part) for part in match.groups())
        return date(year, month, day)
    if pattern is FIGURES:
        first, second = int(match[1]), int(match[3])
        if order == YEAR_FIRST:
            if len(match[4]) == 4:
                raise ValueError
            return date(_year(match[1]), second, int(match[4]))
        year = _year(match[4])
        return date(year, first, second) if order == MONTH_FIRST else date(year, second, first)
    word = match[2] if pattern is NAMED else match[1]
    month_named = month_of(word)
    if month_named is None:
        raise ValueError
    if pattern is NAMED:
        return date(_year(match[3]), month_named, int(match[1]))
    return date(_year(match[3] or match[4]), month_named, int(match[2]))


def _year(text: str) -> int:
    """The year; of two figures, one that is neither long ago nor ahead. Raises ValueError."""
    if len(text) == 4:
        return int(text)
    year, now = 2000 + int(text), timezone.now().year
    if len(text) != 2 or not now - OLDEST_IN_SHORT <= year <= now + 1:
        raise ValueError
    return year


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(0))


def _no_date(cell: Cell) -> Wrong:
    if isinstance(cell, str):
        return Wrong(_("“{cell}” is not a date.").format(cell=short(cell)))
    return Wrong(_("“{cell}” is not a date. Format the cell as a date.").format(cell=short(cell)))
