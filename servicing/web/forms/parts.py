"""Parts as they are entered and counted."""

from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.models import Organisation, Yard
from fleet.web.forms.fields import PlainDecimalField, choice, rows_choice
from fleet.web.forms.house import Form
from servicing.models import Part
from servicing.stock.parts import UNITS


class PartForm(Form):
    """One part. Equivalents are counted in the same unit."""

    number = forms.CharField(label=_("Number"), max_length=60, help_text=_("As the maker prints it."))
    name = forms.CharField(label=_("Name"), max_length=120)
    grade = forms.CharField(
        label=_("Grade"), max_length=120, required=False, help_text=_("Such as SAE 15W-40, API CJ-4.")
    )
    unit = forms.ChoiceField(label=_("Counted in"))
    unit_cost = PlainDecimalField(
        label=_("Cost of one"),
        max_digits=12,
        required=False,
        help_text=_("Leave it empty if you don't know it; reports then say that the cost is incomplete."),
    )
    equivalents: "forms.ModelMultipleChoiceField[Part]" = forms.ModelMultipleChoiceField(
        None,
        label=_("Substitutes"),
        required=False,
        help_text=_("Parts that can be used in its place. Only what the maker's manual allows."),
        widget=forms.SelectMultiple(attrs={"size": 6}),
    )

    def __init__(
        self, *args: Any, organisation: Organisation, part: Part | None = None, **kwargs: Any
    ) -> None:
        if part is not None:
            kwargs["initial"] = {
                "number": part.number,
                "name": part.name,
                "grade": part.grade,
                "unit": part.unit,
                "unit_cost": part.unit_cost or None,
                "equivalents": part.equivalents.all(),
            }
        super().__init__(*args, **kwargs)
        units = UNITS if part is None or part.unit in UNITS else (part.unit, *UNITS)
        choice(self, "unit").choices = [(unit, unit) for unit in units]
        self.fields["unit_cost"].widget.attrs["data-unit"] = organisation.currency
        rows_choice(self, "equivalents").queryset = _others(part)

    def clean_unit_cost(self) -> Decimal:
        """What it costs; nought where that isn't known."""
        return self.cleaned_data["unit_cost"] or Decimal(0)


def _others(part: Part | None) -> "QuerySet[Part]":
    return Part.objects.all() if part is None else Part.objects.filter(unit=part.unit).exclude(pk=part.pk)


class CountForm(Form):
    """What was counted in one yard."""

    yard: "forms.ModelChoiceField[Yard]" = forms.ModelChoiceField(None, widget=forms.HiddenInput)
    quantity = PlainDecimalField(label=pgettext_lazy("stock", "Counted"), max_digits=10)
    reorder_point = PlainDecimalField(
        label=_("Reorder point"),
        max_digits=10,
        required=False,
        help_text=_("We tell you to reorder at or below this. 0: never."),
    )

    def __init__(self, *args: Any, part: Part, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows_choice(self, "yard").queryset = Yard.objects.filter(organisation=part.organisation_id)
        for name in ("quantity", "reorder_point"):
            self.fields[name].widget.attrs["data-unit"] = part.unit
