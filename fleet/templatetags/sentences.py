"""What people wrote, as a sentence that others may follow."""

from django import template

from fleet.calendar.commitments import ended

register = template.Library()
register.filter("ended", ended)
