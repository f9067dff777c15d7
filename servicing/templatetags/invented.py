"""What is said of invented figures."""

from django import template
from django.utils.translation import gettext as _

from servicing.models.program import INVENTED_FIGURES

register = template.Library()


@register.simple_tag
def invented_figures() -> str:
    """The sentence that stands in the head of whatever is made from them."""
    return _(INVENTED_FIGURES)
