"""What another person recorded meanwhile, beside the field it is about."""

from django import template
from django.forms import BoundField

from servicing.web.forms.meeting import Meeting

register = template.Library()


@register.filter
def meeting(field: BoundField) -> Meeting | None:
    """What the record says of a field by now; None where it says what the field says."""
    return getattr(field.form, "meetings", {}).get(field.name)
