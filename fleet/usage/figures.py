"""How hours and days are written for people, in the way of writing they chose.

Thousands are parted by a narrow space, as ISO 80000-1 (7.3) has it for a decimal point and comma alike.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from fleet.usage.language import gettext, ngettext

THIN = "\u202f"  # between thousands
TIGHT = "\u00a0"  # before a unit; neither breaks at the end of a line
POINT, COMMA = ".", ","
DAY_FIRST, MONTH_FIRST, ISO = "day first", "month first", "ISO"


@dataclass(frozen=True)
class Writing:
    """How one person writes figures and days."""

    decimal_mark: str = POINT
    days: str = DAY_FIRST


_usual = [Writing()]
_writing: ContextVar[Writing | None] = ContextVar("writing", default=None)


def usually_written(way: Writing) -> None:
    """Write so wherever nobody's own way is known."""
    _usual[0] = way


def writing() -> Writing:
    """Return the way of writing of who reads this."""
    return _writing.get() or _usual[0]


@contextmanager
def written(way: Writing) -> Iterator[None]:
    """Write for somebody else for a while."""
    before = _writing.set(way)
    try:
        yield
    finally:
        _writing.reset(before)


def marked(plain: str) -> str:
    """Return a figure written with a point with the reader's decimal mark."""
    return plain.replace(POINT, writing().decimal_mark)


def exact(value: Decimal | float) -> Decimal:
    """Return a number with the digits it is written with: 0.1 is one tenth."""
    return Decimal(repr(value)) if isinstance(value, float) else Decimal(value)


def grouped(value: Decimal | float, places: int) -> str:
    """Return a number with thin spaces between thousands, rounded half up to so many places."""
    rounded = exact(value).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
    return marked(f"{rounded:,}".replace(",", THIN)).replace("-", "\u2212")


def how_many(number: int) -> str:
    """Return `400000` in a sentence as `400,000`; with thin spaces for who writes a decimal comma."""
    return f"{number:,}" if writing().decimal_mark == POINT else grouped(number, 0)


def hours(value: Decimal | float) -> str:
    """Return `1204.5` as `1 204.5 h`, with spaces that don't break."""
    return f"{grouped(value, 1)}{TIGHT}h"


def long_day(day: date) -> str:
    """Return a day, or a moment's day, as `3 May 2026`."""
    return _with_year(day, _named(day, "%B"), " ")


def day_and_month(day: date) -> str:
    """Return a day as `3 May`, its month in full."""
    return _in_its_month(day, _named(day, "%B"), " ")


def short_day(day: date, *, year: bool) -> str:
    """Return a day as `3 May`, or `3 May 2026`; its month in short, and a space that doesn't break."""
    month = month_in_short(day)
    return _with_year(day, month, TIGHT) if year else _in_its_month(day, month, TIGHT)


def weekday(day: date) -> str:
    """Return the weekday in short: `Sun`."""
    return _named(day, "%a")


def long_weekday(day: date) -> str:
    """Return the weekday: `Sunday`."""
    return _named(day, "%A")


def day_of_printing(day: date) -> str:
    """Return a day as paper names the one it was printed on: `Sun 3 May 2026`."""
    return f"{weekday(day)} {long_day(day)}"


def month_in_short(day: date) -> str:
    """Return a day's month in short: `Nov`."""
    name = f"{day:%b}".lower()  # as Django's catalogues have it
    return gettext(name).capitalize()


def month_of_year(day: date) -> str:
    """Return a day's month and year: `November 2026`."""
    return gettext("{month} {year}").format(month=_named(day, "%B"), year=day.year)


def days_from_to(first: date, last: date) -> str:
    """Return the days from one to another, both included: `3 May to 5 May 2026`; one day is that day."""
    return long_day(first) if first == last else from_to(*first_and_last(first, last))


def first_and_last(first: date, last: date) -> tuple[str, str]:
    """Return two days, each as it stands in a range: `3 May` and `5 May 2026`; one year is said once."""
    begins = day_and_month(first) if first.year == last.year else long_day(first)
    return begins, long_day(last)


def from_to(first: str, last: str) -> str:
    """Return two figures or days, each written already, as a range: `3 May to 5 May`."""
    return gettext("{first} to {last}").format(first=first, last=last)


def span(days: float) -> str:
    """Return a length of time (days, not negative) in the words of its size: `12 min`, `3.5 h`, `9 days`."""
    minutes = round(days * 1440)
    if minutes < 60:
        return f"{minutes}{TIGHT}min"
    if days < 3:
        return hours(round(days * 24, 1))
    whole = round(days)
    return (
        ngettext("{number} day", "{number} days", whole)
        .format(number=grouped(float(whole), 0))
        .replace(" ", TIGHT)
    )


def _named(day: date, kind: str) -> str:
    """Return a day's month or weekday; Django's catalogues have these names."""
    name = day.strftime(kind)
    return gettext(name)


def _in_its_month(day: date, month: str, space: str) -> str:
    """Return `3 May`, or as the reader writes it."""
    if writing().days == ISO:
        return f"{day:%Y-%m-%d}"
    if writing().days == MONTH_FIRST:
        return f"{month}{space}{day.day}"
    return gettext("{day} {month}").format(day=day.day, month=month).replace(" ", space)


def _with_year(day: date, month: str, space: str) -> str:
    said = _in_its_month(day, month, space)
    if writing().days == ISO:
        return said
    return f"{said}, {day.year}" if writing().days == MONTH_FIRST else f"{said} {day.year}"
