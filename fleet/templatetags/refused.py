"""Whether a page shows a refusal, for its title: who hears a page hears the title first."""

from collections.abc import Iterable
from typing import Any, cast

from django import forms, template
from django.contrib.messages import ERROR
from django.db.models import Model
from django.template import Context
from django.utils.translation import gettext as _

register = template.Library()


@register.simple_tag(takes_context=True)
def error_mark(context: Context) -> str:
    """`Error: ` where something was refused; `show_errors`, where a view sets it, says whether that shows."""
    shown = cast(dict[str, Any], context.flatten())
    refused = shown.get("refusal") or shown.get("fault") or shown.get("stale") or _table(shown)
    refused = refused or any(message.level == ERROR for message in shown.get("messages") or ())
    of_forms = (form.errors or getattr(form, "meetings", ()) for form in _forms(shown.values()))
    refused = refused or (shown["show_errors"] if "show_errors" in shown else any(of_forms))
    return _("Error: ") if refused else ""


def _table(shown: dict[str, Any]) -> bool:
    """Whether a file or a typed table was refused; what lies in a list of models are faults of machines."""
    faults = shown.get("faults")
    told = isinstance(faults, list) and faults and not isinstance(faults[0], Model)
    return bool(told or getattr(shown.get("table"), "refusal", ""))


def _forms(values: Iterable[Any]) -> Iterable[forms.BaseForm]:
    for value in values:
        if isinstance(value, forms.BaseForm):
            yield value
        elif isinstance(value, forms.BaseFormSet):
            yield from value.forms
        elif isinstance(value, list | tuple):
            yield from (each for each in value if isinstance(each, forms.BaseForm))
