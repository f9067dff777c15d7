"""Filters that say when a task falls due, and for which machines."""

from django import template

from servicing.programs import wording

register = template.Library()
register.filter("interval", wording.interval)
register.filter("rhythm", wording.rhythm)
register.filter("in_sentence", wording.in_sentence)
