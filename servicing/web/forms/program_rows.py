"""The rows of a draft's task: its cautions, checks, tools and supplies."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.forms.utils import ErrorDict
from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from fleet.core.hazards import Action, Hazard, Signal
from fleet.web.forms.house import Form
from servicing.measurements import limits
from servicing.models import Check
from servicing.programs.file_format import grammar
from servicing.programs.file_format.grammar import bounds
from servicing.programs.file_format.kinds import UNITS
from servicing.web import within_sentences
from servicing.web.forms.check_values import Figure

SEVERITIES = [
    ("", _("Not said")),
    (Signal.DANGER, _("Danger: will kill or injure badly")),
    (Signal.WARNING, _("Warning: can kill or injure badly")),
    (Signal.CAUTION, _("Caution: can injure slightly or moderately")),
]
NO_MEANING = ":"  # parts a word from its meaning


class Lines(forms.CharField):
    """Sentences, one a line. Cleaned to a list."""

    def __init__(self, *, rows: int = 4, **kwargs: Any) -> None:
        super().__init__(required=False, widget=forms.Textarea(attrs={"rows": rows}), **kwargs)

    def clean(self, value: Any) -> Any:
        return [line.strip() for line in super().clean(value).splitlines() if line.strip()]

    def prepare_value(self, value: Any) -> Any:
        return "\n".join(value) if isinstance(value, list) else value


class Number(Figure):
    """A number whose zeros at the end are not shown."""

    def prepare_value(self, value: Any) -> Any:
        return limits.plain(value) if isinstance(value, Decimal) else value


class RowForm(Form):
    """A row of a list; one whose typed entries are all empty is no row, and so is taken out."""

    CHOSEN = ("hazard", "signal", "actions", "kind", "unit", "code", "safety")

    def full_clean(self) -> None:
        if self.is_bound and not any(self[name].data for name in self.fields if name not in self.CHOSEN):
            self._errors, self.cleaned_data = ErrorDict(), {}
        else:
            super().full_clean()


class CautionForm(RowForm):
    hazard = forms.ChoiceField(
        label=_("Hazard"),
        required=False,
        choices=[
            ("", pgettext_lazy("hazard", "Another one")),
            *(each for each in Hazard.choices if each[0] != Hazard.GENERAL),
        ],
    )
    signal = forms.ChoiceField(label=_("How badly it hurts"), required=False, choices=SEVERITIES)
    text = forms.CharField(
        label=_("What can hurt, and how to prevent it"),
        widget=forms.Textarea(attrs={"rows": 2}),
        **bounds(grammar.Caution, "text"),
    )
    before_step = forms.IntegerField(
        label=_("Before step"),
        required=False,
        help_text=_("Empty: before the work begins."),
        **bounds(grammar.Caution, "before_step"),
    )

    actions = forms.MultipleChoiceField(
        label=_("What must be done or worn"),
        required=False,
        choices=Action.choices,
        widget=forms.CheckboxSelectMultiple,
    )

    def entry(self) -> dict[str, Any]:
        """Return the caution as the program file says it."""
        return {name: value for name, value in self.cleaned_data.items() if value}


class ToolForm(RowForm):
    tool = forms.CharField(label=_("Tool"), **bounds(grammar.Tool, "tool"))
    size = forms.CharField(label=_("Size"), required=False, **bounds(grammar.Tool, "size"))

    def entry(self) -> dict[str, Any]:
        """Return the tool as the program file says it."""
        return {name: value for name, value in self.cleaned_data.items() if value}


class SupplyForm(RowForm):
    number = forms.CharField(label=_("Part number"), **bounds(grammar.Supply, "number"))
    name = forms.CharField(label=_("Name"), **bounds(grammar.Supply, "name"))
    grade = forms.CharField(label=_("Grade"), required=False, **bounds(grammar.Supply, "grade"))
    quantity = Number(unit="", label=_("Quantity"), max_length=12)
    unit = forms.CharField(
        label=_("Counted in"), initial="pc", help_text="pc, L, g", **bounds(grammar.Supply, "unit")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quantity"].required = True

    def clean_quantity(self) -> Decimal:
        """Return how much; it must be said."""
        quantity = self.cleaned_data["quantity"]
        if not quantity or quantity < 0:
            raise forms.ValidationError(gettext("Enter how much is needed."))
        return quantity

    def entry(self) -> dict[str, Any]:
        """Return the supply as the program file says it."""
        return {name: value for name, value in self.cleaned_data.items() if value}


class CheckForm(RowForm):
    """A check; which of the entries it has is decided by its kind."""

    kind = forms.ChoiceField(label=_("Kind"), choices=[("", _("Choose one")), *Check.Kind.choices])
    label = forms.CharField(label=_("What is checked"), **bounds(grammar.Check, "label"))
    code = forms.CharField(required=False, widget=forms.HiddenInput, **bounds(grammar.Check, "code"))
    safety = forms.BooleanField(label=_("Safety check: a failure tags the machine out"), required=False)
    unit = forms.ChoiceField(
        label=_("Unit"),
        required=False,
        choices=[("", pgettext_lazy("unit", "None")), *((unit, unit) for unit in sorted(UNITS))],
    )
    lower = Number(unit="", label=_("Lowest allowed"), max_length=20)
    upper = Number(unit="", label=_("Highest allowed"), max_length=20)
    target = Number(unit="", label=_("Aim for"), max_length=20)
    socket = forms.CharField(label=_("Socket"), required=False, **bounds(grammar.Torque, "socket"))
    pattern = forms.CharField(
        label=_("Order of tightening"), required=False, **bounds(grammar.Torque, "pattern")
    )
    passing = Lines(label=_("Words that pass, one a line"), rows=2, help_text=_("A word: its meaning."))
    failing = Lines(label=_("Words that fail, one a line"), rows=2, help_text=_("A word: what to do."))
    steps = Lines(label=_("How the test is made, one step a line"), rows=2)
    expect = forms.CharField(
        label=_("What must happen"), required=False, **bounds(grammar.Function, "expect")
    )

    KEYS: Mapping[str, str] = {"passing": "choices", "failing": "choices"}  # in the file, where it differs

    def clean(self) -> dict[str, Any]:
        """Ask for what the kind has, and refuse what it has not."""
        entry = self.cleaned_data
        kind = entry.get("kind")
        if not kind:
            return entry
        word = within_sentences.kind(kind)
        for name in self._further():
            field = grammar.CHECKS[kind].model_fields.get(self.KEYS.get(name, name))
            empty = entry.get(name) in (None, "", [])
            if field is None and not empty:
                none = gettext("A check of the kind “{kind}” has none. Clear this, or choose another kind.")
                self.add_error(name, none.format(kind=word))
            elif field and field.is_required() and empty and name not in {"failing", *self.errors}:
                self.add_error(name, gettext("A check of the kind “{kind}” needs this.").format(kind=word))
        lower, upper, target = (entry.get(name) for name in ("lower", "upper", "target"))
        if kind == Check.Kind.MEASURE and lower is None and upper is None:
            self.add_error("lower", gettext("Enter the lowest or the highest allowed, or both."))
        if lower is not None and upper is not None and lower > upper:
            self.add_error("lower", gettext("This is above the highest allowed."))
        if target is not None and not limits.Rule(lower=lower, upper=upper).allows(target):
            self.add_error("target", gettext("This is outside the limits."))
        return entry

    def entry(self) -> dict[str, Any]:
        """Return the check as the program file says it, its code aside."""
        entry = self.cleaned_data
        row = {name: entry[name] for name in ("kind", "label")} | (
            {"safety": True} if entry["safety"] else {}
        )
        has = grammar.CHECKS[entry["kind"]].model_fields
        for name in self._further():
            if name in has and entry.get(name) not in (None, "", []):
                row[name] = entry[name]
        words = [
            {"value": value.strip(), "meaning": said.strip(), "passes": name == "passing"}
            for name in ("passing", "failing")
            for value, _colon, said in (line.partition(NO_MEANING) for line in entry[name])
        ]
        return row | ({"choices": words} if words else {})

    def _further(self) -> list[str]:
        """The entries that not every kind of check has."""
        return [name for name in self.fields if name not in grammar.Check.model_fields]
