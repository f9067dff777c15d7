"""Filters that write figures and days on a page."""

from django import template

from fleet.core import wording

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
    wording.long_day,
    wording.month_of_year,
    wording.moment_of_year,
):
    register.filter(write.__name__, write)
