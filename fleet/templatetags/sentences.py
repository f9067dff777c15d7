"""What people wrote, as a sentence that others may follow."""

from django import template

from fleet.promised import ended

register = template.Library()
register.filter("ended", ended)
