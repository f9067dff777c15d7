"""Filters that say how long work takes."""

from django import template

from fleet.core import wording

register = template.Library()
register.filter("task_time", wording.task_time)
register.filter("worktime", wording.worktime)
