"""Days for plain text, such as a mail, where an ordinary space does."""

from datetime import date

from django import template

from fleet.usage import figures

register = template.Library()


@register.filter
def near_day(value: date) -> str:
    """Return a day, or a moment's day, as `Tue 10 Mar`."""
    return f"{figures.weekday(value)} {_plain(figures.short_day(value, year=False))}"


@register.filter
def day_and_year(value: date) -> str:
    """Return a day as `9 Feb 2026`."""
    return _plain(figures.short_day(value, year=True))


def _plain(said: str) -> str:
    return said.replace(figures.TIGHT, " ")
