"""Fields for what is read at a machine: a figure, minutes, a number with its unit, a word of a check."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from servicing.measurements import limits
from servicing.models.check import word_said

MOST_BUTTONS = 4
"""A check of more words is a list to choose from."""


class Figure(forms.CharField):
    """A number as people write it, with a point or a comma. Cleaned to a Decimal; None when empty."""

    def __init__(self, *, unit: str, **kwargs: Any) -> None:
        attrs = {"inputmode": "decimal", "data-unit": unit, "autocomplete": "off"}
        super().__init__(required=False, widget=forms.TextInput(attrs=attrs), **kwargs)

    def clean(self, value: Any) -> Any:
        typed = super().clean(value)
        if not typed:
            return None
        try:
            return limits.number(typed)
        except FleetError as error:
            raise ValidationError(error.sentence) from None


class Minutes(Figure):
    """Minutes as people write them, 75 or 1:15. Cleaned to whole minutes; None when empty."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(unit="min", **{"max_length": 6, **kwargs})

    def clean(self, value: Any) -> Any:
        typed = forms.CharField.clean(self, value)
        if not typed:
            return None
        try:
            return limits.minutes(typed)
        except FleetError as error:
            raise ValidationError(error.sentence) from None


class WithUnit(forms.MultiWidget):
    """A number and the unit it is read in, as the names `x` and `x_unit`."""

    use_fieldset = False

    def __init__(self, units: Sequence[str]) -> None:
        typed = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
        unit = forms.Select(choices=[(unit, unit) for unit in units], attrs={"aria-label": _("Unit")})
        super().__init__({"": typed, "unit": unit})

    def decompress(self, value: Any) -> list[str]:
        return list(value or ("", ""))

    def id_for_label(self, id_: str) -> str:
        return f"{id_}_0"


class Measured(forms.MultiValueField):
    """Cleaned to (what was typed, its unit); the limits are judged by the process that keeps it."""

    def __init__(self, units: Sequence[str], **kwargs: Any) -> None:
        fields = (forms.CharField(required=False, max_length=40), forms.CharField(required=False))
        super().__init__(fields, required=False, require_all_fields=False, widget=WithUnit(units), **kwargs)

    def compress(self, values: list[str]) -> tuple[str, str]:
        return (values[0], values[1]) if values else ("", "")


def word_field(choices: Any, *, unanswered: str = "", **asked: Any) -> forms.ChoiceField:
    """Ask for a word of a check: buttons for a few, a list for many.

    choices: as the check has them. unanswered: what says that there is no answer; without it one is needed.
    """
    words = [(word["value"], word_said(word["value"])) for word in limits.words(choices)]
    empty = [("", unanswered)] if unanswered else []
    if len(words) <= MOST_BUTTONS:
        return forms.ChoiceField(choices=[*empty, *words], widget=forms.RadioSelect, **asked)
    return forms.ChoiceField(choices=[*(empty or [("", _("Choose"))]), *words], **asked)
