"""How figures and days are written on a page: unbreakable, grouped by thin spaces, with their unit."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import template
from django.utils import timezone

from fleet.models import Machine, Organisation
from fleet.usage import figures
from fleet.usage.figures import TIGHT, grouped

register = template.Library()


@register.filter
def hours(value: Decimal | None) -> str:
    """`1204.5` as `1 204.5 h`; a dash for none."""
    return "–" if value is None else figures.hours(value)


@register.filter
def hours_of(machine: Machine) -> str:
    """A machine's total hours, and what its meter shows where that is another figure. Asks for the meter."""
    total, shown = hours(machine.hours), machine.meter_shows
    return total if shown is None or shown == machine.hours else f"{total} in all, meter shows {hours(shown)}"


@register.filter
def figure(value: Decimal | None, places: int = 0) -> str:
    """A plain number, grouped."""
    return "–" if value is None else grouped(value, places)


@register.filter
def money(value: Decimal | None, organisation: Organisation) -> str:
    """An amount with the organisation's currency code; a dash for none."""
    return "–" if value is None else f"{grouped(value, 2)}{TIGHT}{organisation.currency}"


@register.filter
def price(value: Decimal | None, organisation: Organisation) -> str:
    """What one of something costs, or an hour; nought was never entered, and is said so."""
    return money(value, organisation) if value else "not entered"


@register.filter
def day(value: date | datetime | None) -> str:
    """`3 May`, with the year when it isn't this one; a dash for none."""
    if value is None:
        return "–"
    if isinstance(value, datetime):
        value = timezone.localtime(value).date()
    year = f" {value.year}" if value.year != timezone.localdate().year else ""
    return f"{value.day}{TIGHT}{value:%b}{year}"


@register.filter
def day_range(first: date | None, last: date | None) -> str:
    """`7 Dec to 5 Jan 2027`, of days or moments; one day is that day, no last one lies beyond three years."""
    if first is not None and last is not None and day(first) == day(last):
        return day(first)
    return f"{day(first)} to {'beyond 3 years' if last is None else day(last)}"


@register.filter
def likely_days(projected: Any) -> str:
    """`19 Dec (7 Dec to 5 Jan 2027)` of what has `early`, `likely` and `late` days; one day is that day.

    A day that isn't likely within what is projected is said so.
    """
    likely = "a day beyond 3 years" if projected.likely is None else day(projected.likely)
    if projected.early is None or projected.early == projected.likely == projected.late:
        return likely
    return f"{likely} ({day_range(projected.early, projected.late)})"


@register.filter
def moment(value: datetime | None) -> str:
    """A day and the time on it."""
    return "–" if value is None else f"{day(value)}, {timezone.localtime(value):%H:%M}"


@register.filter
def exact(value: Decimal | None) -> str:
    """A number as it was entered, without the zeros a column adds: `7.500000` as `7.5`, `100` as `100`."""
    return "–" if value is None else f"{value.normalize():f}"


@register.filter
def percent(share: float) -> str:
    """A share of one as a whole number of a hundred."""
    return f"{100 * share:.0f}"
