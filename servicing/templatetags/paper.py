"""What stands between the lines of a job sheet, in words."""

from django import template

from servicing.job_sheet import wording

register = template.Library()
register.filter("hands_on", wording.hands_on)
register.filter("before_line", wording.before)
register.filter("while_it_waits", wording.while_it_waits)
register.filter("then_back", wording.then_back)
