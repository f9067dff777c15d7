"""What stands between the lines of a job sheet, in words."""

from django import template

from servicing import sheet_words

register = template.Library()
register.filter("hands_on", sheet_words.hands_on)
register.filter("before_line", sheet_words.before)
register.filter("while_it_waits", sheet_words.while_it_waits)
register.filter("then_back", sheet_words.then_back)
