"""How figures, days and lengths of time are written for people: they never break, and carry their unit."""

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone, translation
from django.utils.translation import gettext as _

from fleet.usage import figures
from fleet.usage.figures import ISO, TIGHT, from_to, grouped, marked

NEAR_DAYS = 14  # within which a day is said with its weekday
HALF_A_YEAR = 183
ENGLISH = "en"


def hours(value: Decimal | None) -> str:
    """`1204.5` as `1 204.5 h`; a dash for none."""
    return "–" if value is None else figures.hours(value)


def hours_of(machine: Any) -> str:
    """A machine's total hours, and what its meter shows where that is another figure. Asks for the meter."""
    total, shown = hours(machine.hours), machine.meter_shows
    if shown is None or shown == machine.hours:
        return total
    return _("{total} in total, meter shows {shown}").format(total=total, shown=hours(shown))


def figure(value: Decimal | None, places: int = 0) -> str:
    """A plain number, grouped."""
    return "–" if value is None else grouped(value, places)


def in_a_sentence(label: Any) -> str:
    """A label as it stands within a sentence: small in English; elsewhere as it is, for German nouns."""
    small = (translation.get_language() or ENGLISH).startswith(ENGLISH)
    return str(label).lower() if small else str(label)


def money(value: Decimal | None, organisation: Any) -> str:
    """An amount with the organisation's currency code; a dash for none."""
    return "–" if value is None else f"{grouped(value, 2)}{TIGHT}{organisation.currency}"


def price(value: Decimal | None, organisation: Any) -> str:
    """What one of something costs, or an hour; nought was never entered, and is said so."""
    return money(value, organisation) if value else _("not entered")


def day(value: date | datetime | None) -> str:
    """`Sun 29 Nov` within two weeks, else `3 May`, with the year when it isn't this one; a dash for none."""
    if value is None:
        return "–"
    near = abs((_local(value) - timezone.localdate()).days) <= NEAR_DAYS
    return _with_weekday(plain_day(value), value) if near else plain_day(value)


def plain_day(value: date | datetime) -> str:
    """The same without its weekday, for where there is little room: an axis, a range."""
    value = _local(value)
    return figures.short_day(value, year=value.year != timezone.localdate().year)


def day_of_year(value: date | datetime | None) -> str:
    """`3 May 2026`; a dash for none."""
    return "–" if value is None else figures.short_day(_local(value), year=True)


def day_in_full(value: date | datetime) -> str:
    """`Sunday 3 May`, for a day of about now."""
    value = _local(value)
    return _("{weekday} {day}").format(weekday=figures.long_weekday(value), day=figures.day_and_month(value))


def month_of_year(value: date | datetime) -> str:
    """`May 2026`, in full."""
    return figures.month_of_year(_local(value))


def day_range(first: date | None, last: date | None) -> str:
    """`7 Dec to 5 Jan`, of days or moments; one day is that day, no last one lies beyond three years."""
    return _range(first, last, day)


def likely_days(projected: Any) -> str:
    """`Sat 5 Dec (1 Dec to 5 Jan)` of what has `early`, `likely` and `late` days; one day is that day.

    A day that isn't likely within what is projected is said so.
    """
    likely = _("more than 3 years away") if projected.likely is None else day(projected.likely)
    if projected.early is None or projected.early == projected.likely == projected.late:
        return likely
    return f"{likely} ({_range(projected.early, projected.late, plain_day)})"


def _range(first: date | None, last: date | None, said: Callable[[date], str]) -> str:
    """A year is said once, and not for the next one's first months after a day of this year."""
    if first is None or last is None:
        return from_to(said(first) if first else "–", said(last) if last else _("beyond 3 years"))
    first, last = _local(first), _local(last)
    if first == last:
        return said(first)
    begins, ends = said(first), said(last)
    if first.year == last.year:
        begins = _without_year(begins, first)
    elif first.year == timezone.localdate().year and (last - first).days < HALF_A_YEAR:
        ends = _without_year(ends, last)
    return from_to(begins, ends)


def _without_year(said: str, value: date) -> str:
    return said if figures.writing().days == ISO else said.removesuffix(f" {value.year}").removesuffix(",")


def _with_weekday(said: str, value: date | datetime) -> str:
    return f"{figures.weekday(_local(value))}{TIGHT}{said}"


def _local(value: date | datetime) -> date:
    return timezone.localtime(value).date() if isinstance(value, datetime) else value


def moment(value: datetime | None) -> str:
    """A day and the time on it."""
    return "–" if value is None else f"{day(value)}, {timezone.localtime(value):%H:%M}"


def moment_of_year(value: datetime | None) -> str:
    """A day with its year, and the time on it: `3 May 2026, 14:30`."""
    return "–" if value is None else f"{day_of_year(value)}, {timezone.localtime(value):%H:%M}"


def exact(value: Decimal | None) -> str:
    """A number as it was entered, without the zeros a column adds: `7.500000` as `7.5`, `100` as `100`."""
    return "–" if value is None else marked(f"{value.normalize():f}")


def percent(share: float) -> str:
    """A share of one as a whole number of a hundred."""
    return f"{100 * share:.0f}"


def task_time(minutes: int) -> str:
    """The minutes one task takes; nought was never entered, and is said so."""
    return worktime(minutes) if minutes else _("time not entered")


def worktime(minutes: int) -> str:
    """`750` as `12 h 30 min`, `40` as `40 min`."""
    hours, rest = divmod(minutes, 60)
    said = [f"{hours:,} h".replace(",", "\u202f")] if hours else []
    if rest or not hours:
        said.append(f"{rest} min")
    return "\u00a0".join(said).replace(" ", "\u00a0")
