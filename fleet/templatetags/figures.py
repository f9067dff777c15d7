"""Filters that write figures and days on a page."""

from django import template
from django.utils import timezone

from fleet.core import wording
from fleet.usage import figures

register = template.Library()
for write in (
    wording.hours,
    wording.hours_of,
    wording.figure,
    wording.money,
    wording.price,
    wording.day,
    wording.day_range,
    wording.likely_days,
    wording.moment,
    wording.exact,
    wording.percent,
    wording.plain_day,
    wording.day_of_year,
    wording.day_in_full,
    wording.month_of_year,
    wording.moment_of_year,
):
    register.filter(write.__name__, write)
register.filter("marked", figures.marked)


@register.simple_tag
def today_in_words() -> str:
    """Today as `Sun 3 May 2026`, for a page that is printed."""
    return figures.day_of_printing(timezone.localdate())


@register.simple_tag
def now_in_words() -> str:
    """This moment as `3 May 2026, 14:30`, for a sheet that is printed."""
    now = timezone.localtime()
    return f"{figures.long_day(now)}, {now:%H:%M}"
