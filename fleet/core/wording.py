"""How figures, days and lengths of time are written for people: they never break, and carry their unit."""

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone

from fleet.usage import figures
from fleet.usage.figures import TIGHT, grouped

NEAR_DAYS = 14  # within which a day is said with its weekday
HALF_A_YEAR = 183


def hours(value: Decimal | None) -> str:
    """`1204.5` as `1 204.5 h`; a dash for none."""
    return "–" if value is None else figures.hours(value)


def hours_of(machine: Any) -> str:
    """A machine's total hours, and what its meter shows where that is another figure. Asks for the meter."""
    total, shown = hours(machine.hours), machine.meter_shows
    return (
        total if shown is None or shown == machine.hours else f"{total} in total, meter shows {hours(shown)}"
    )


def figure(value: Decimal | None, places: int = 0) -> str:
    """A plain number, grouped."""
    return "–" if value is None else grouped(value, places)


def money(value: Decimal | None, organisation: Any) -> str:
    """An amount with the organisation's currency code; a dash for none."""
    return "–" if value is None else f"{grouped(value, 2)}{TIGHT}{organisation.currency}"


def price(value: Decimal | None, organisation: Any) -> str:
    """What one of something costs, or an hour; nought was never entered, and is said so."""
    return money(value, organisation) if value else "not entered"


def day(value: date | datetime | None) -> str:
    """`Sun 29 Nov` within two weeks, else `3 May`, with the year when it isn't this one; a dash for none."""
    if value is None:
        return "–"
    value = _local(value)
    near = abs((value - timezone.localdate()).days) <= NEAR_DAYS
    return f"{value:%a}{TIGHT}{plain_day(value)}" if near else plain_day(value)


def plain_day(value: date | datetime) -> str:
    """The same without its weekday, for where there is little room: an axis, a range."""
    value = _local(value)
    year = f" {value.year}" if value.year != timezone.localdate().year else ""
    return f"{value.day}{TIGHT}{value:%b}{year}"


def day_range(first: date | None, last: date | None) -> str:
    """`7 Dec to 5 Jan`, of days or moments; one day is that day, no last one lies beyond three years."""
    return _range(first, last, day)


def likely_days(projected: Any) -> str:
    """`Sat 5 Dec (1 Dec to 5 Jan)` of what has `early`, `likely` and `late` days; one day is that day.

    A day that isn't likely within what is projected is said so.
    """
    likely = "more than 3 years away" if projected.likely is None else day(projected.likely)
    if projected.early is None or projected.early == projected.likely == projected.late:
        return likely
    return f"{likely} ({_range(projected.early, projected.late, plain_day)})"


def _range(first: date | None, last: date | None, said: Callable[[date], str]) -> str:
    """A year is said once, and not for the next one's first months after a day of this year."""
    if first is None or last is None:
        return f"{said(first) if first else '–'} to {said(last) if last else 'beyond 3 years'}"
    first, last = _local(first), _local(last)
    if first == last:
        return said(first)
    begins, ends = said(first), said(last)
    if first.year == last.year:
        begins = begins.removesuffix(f" {first.year}")
    elif first.year == timezone.localdate().year and (last - first).days < HALF_A_YEAR:
        ends = ends.removesuffix(f" {last.year}")
    return f"{begins} to {ends}"


def _local(value: date | datetime) -> date:
    return timezone.localtime(value).date() if isinstance(value, datetime) else value


def moment(value: datetime | None) -> str:
    """A day and the time on it."""
    return "–" if value is None else f"{day(value)}, {timezone.localtime(value):%H:%M}"


def exact(value: Decimal | None) -> str:
    """A number as it was entered, without the zeros a column adds: `7.500000` as `7.5`, `100` as `100`."""
    return "–" if value is None else f"{value.normalize():f}"


def percent(share: float) -> str:
    """A share of one as a whole number of a hundred."""
    return f"{100 * share:.0f}"


def task_time(minutes: int) -> str:
    """The minutes one task takes; nought was never entered, and is said so."""
    return worktime(minutes) if minutes else "time not entered"


def worktime(minutes: int) -> str:
    """`750` as `12 h 30 min`, `40` as `40 min`."""
    hours, rest = divmod(minutes, 60)
    said = [f"{hours:,} h".replace(",", "\u202f")] if hours else []
    if rest or not hours:
        said.append(f"{rest} min")
    return "\u00a0".join(said).replace(" ", "\u00a0")
