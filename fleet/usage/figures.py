"""How hours and days are written for people, wherever they are."""

from datetime import date
from decimal import ROUND_HALF_UP, Decimal

THIN = "\u202f"  # between thousands
TIGHT = "\u00a0"  # before a unit; neither breaks at the end of a line


def exact(value: Decimal | float) -> Decimal:
    """Return a number with the digits it is written with: 0.1 is one tenth."""
    return Decimal(repr(value)) if isinstance(value, float) else Decimal(value)


def grouped(value: Decimal | float, places: int) -> str:
    """Return a number with thin spaces between thousands, rounded half up to so many places."""
    rounded = exact(value).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
    return f"{rounded:,}".replace(",", THIN).replace("-", "\u2212")


def hours(value: Decimal | float) -> str:
    """Return `1204.5` as `1 204.5 h`, with spaces that don't break."""
    return f"{grouped(value, 1)}{TIGHT}h"


def long_day(day: date) -> str:
    """Return a day, or a moment's day, as `3 May 2026`."""
    return f"{day.day} {day:%B %Y}"


def days_from_to(first: date, last: date) -> str:
    """Return the days from one to another, both included: `3 May 2026 to 5 May 2026`; one day is that day."""
    return long_day(first) if first == last else f"{long_day(first)} to {long_day(last)}"


def span(days: float) -> str:
    """Return a length of time (days, not negative) in the words of its size: `12 min`, `3.5 h`, `9 days`."""
    minutes = round(days * 1440)
    if minutes < 60:
        return f"{minutes}{TIGHT}min"
    if days < 3:
        return hours(round(days * 24, 1))
    return f"{grouped(float(round(days)), 0)}{TIGHT}days"
