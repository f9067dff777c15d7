"""A figure that was written with a point, with the reader's decimal mark."""

from django import template

from fleet.usage.figures import marked

register = template.Library()
register.filter("marked", marked)
