"""Filters that say what a cost lacks, and what the coming days bring."""

from django import template

from servicing.reports import wording

register = template.Library()
register.filter("cost_lacks", wording.lacks)
register.filter("expected_labour", wording.labour)
register.filter("expected_supplies", wording.supplies)
