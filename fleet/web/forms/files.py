"""A file of readings, and which of its columns holds what."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext

from fleet.core.number_reader import COMMA, POINT
from fleet.imports.cell_days import FIRST_DAY, LAST_DAY, YEAR_FIRST
from fleet.imports.plan import ABOVE, FIRST, WITHIN, YEAR, Plan, headings
from fleet.imports.rows import NO, YES
from fleet.imports.table import FileRow, as_text
from fleet.models import Organisation
from fleet.web.forms.house import Form

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

EXAMPLE = 24  # characters of a column's first cell that are shown with its name
ROLES: "dict[str, tuple[StrOrPromise, StrOrPromise]]" = {
    "machine": (_("Machine"), _("Its fleet number or its serial number.")),
    "taken_at": (_("Day it was read"), ""),
    "time": (_("Time of day"), _("If it has a column of its own.")),
    "hours": (_("Hours on the meter"), _("What the meter itself showed, not the hours of a day.")),
    "minutes": (_("Minutes of these hours"), _("If they have a column of their own.")),
    "note": (_("Note"), ""),
}
OPTIONAL = ("time", "minutes", "note")
ACCEPT = ".csv,.txt,.tsv,.xlsx,text/csv,application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class SendForm(Form):
    """A file to send."""

    file = forms.FileField(
        label=_("File"),
        allow_empty_file=True,  # an empty one gets the same clear sentence as any other that can't be read
        widget=forms.FileInput(attrs={"accept": ACCEPT}),
    )


class PlanForm(Form):
    """Which column holds what, how days and fractions are written, and what else the file leaves to ask.

    shown: the columns that the page was about; others are looked at again before anything is taken in.
    """

    heading = forms.BooleanField(label=_("The first row holds the column names"), required=False)
    shown = forms.CharField(required=False, widget=forms.HiddenInput)
    year = forms.IntegerField(
        label=_("Year of dates without one"),
        min_value=1990,
        max_value=2099,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        error_messages={"required": _("Say of which year these dates are.")},
    )
    within = forms.ChoiceField(
        label=_("Which day a month or a year stands for"),
        choices=[(FIRST_DAY, _("Its first day")), (LAST_DAY, _("Its last day"))],
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose which day is meant.")},
    )
    above = forms.ChoiceField(
        label=_("Rows that leave the day or the machine blank"),
        choices=[(YES, _("It is that of the row above")), (NO, _("Reject them"))],
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose what a blank means.")},
    )
    first = forms.BooleanField(
        label=_("Yes, these are the hours that the meters of these machines showed"),
        required=False,
    )
    order = forms.ChoiceField(
        label=_("How dates are written"),
        choices=[*Organisation.DateOrder.choices, (YEAR_FIRST, _("Year first, in two figures: 26-05-03"))],
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose how the dates in this file are written.")},
    )
    decimal = forms.ChoiceField(
        label=_("Decimal mark of the hours"),
        choices=[(POINT, _("A point: 1204.5")), (COMMA, _("A comma: 1204,5"))],
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose how the hours in this file are written.")},
    )
    field_order = [*ROLES, "order", "year", "within", "decimal", "above", "heading", "shown", "first"]

    def __init__(self, *args: Any, sample: Sequence[FileRow], plan: Plan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs | {"initial": plan.to_keep() | {"shown": columns_shown(plan)}})
        self._plan = plan
        columns = _columns(sample, plan)
        for name in {YEAR, WITHIN, ABOVE, FIRST} - set(plan.asks):
            del self.fields[name]
        if plan.layout is not None:
            del self.fields["heading"]
        for role, (label, help_text) in ROLES.items():
            none = pgettext("column", "None") if role in OPTIONAL else _("Choose the column")
            self.fields[role] = forms.TypedChoiceField(
                label=label,
                help_text=help_text,
                choices=[("", none), *columns],
                coerce=int,
                empty_value=None,
                required=role not in OPTIONAL,
                error_messages={"required": _("Choose the column.")},
            )
        self.order_fields(self.field_order)

    def clean(self) -> dict[str, Any]:
        """Refuse one column for two things, and first readings that nobody confirmed."""
        entered = self.cleaned_data
        taken: dict[int, str] = {}
        for role in ROLES:
            column = entered.get(role)
            if column is None:
                continue
            if column in taken:
                sentence = _("Choose another column: this one is taken for “{what}”.")
                self.add_error(role, sentence.format(what=ROLES[taken[column]][0]))
            taken[column] = role
        unconfirmed = "first" in self.fields and not entered.get("first")
        if unconfirmed and self.data.get("do") == "take" and not self.errors:
            self.add_error("first", _("Look at the pictures, and confirm them or choose another column."))
        return entered

    @property
    def columns_changed(self) -> bool:
        """Whether other columns were chosen than those that the page showed."""
        return self.cleaned_data.get("shown", "") not in ("", columns_shown(self.plan()))

    def plan(self) -> Plan:
        """Return what was chosen, on top of what the file tells."""
        names = [*ROLES, "heading", "order", "decimal", YEAR, WITHIN, ABOVE, FIRST]
        chosen = {name: self.cleaned_data[name] for name in names if name in self.cleaned_data}
        return replace(self._plan, **chosen)

    def columns_alone(self) -> Plan | None:
        """The plan with the columns that were chosen; None where one is missing or chosen twice."""
        if any(name in self.errors for name in ROLES):
            return None
        return self._plan.with_columns({role: self.cleaned_data.get(role) for role in ROLES})


def columns_shown(plan: Plan) -> str:
    """The columns that readings are made of, as a page remembers them."""
    places = (*plan.columns, plan.time, plan.minutes)
    return " ".join("-" if place is None else str(place) for place in places)


def _columns(sample: Sequence[FileRow], plan: Plan) -> list[tuple[int, str]]:
    """The columns to choose from, each with its first cell that isn't empty."""
    choices = []
    for column, name in enumerate(headings(sample, plan)):
        cells = (row.cells[column] for row in sample[plan.heading :] if column < len(row.cells))
        example = next((as_text(cell) for cell in cells if cell not in (None, "")), "")
        if len(example) > EXAMPLE:
            example = example[: EXAMPLE - 1] + "…"
        choices.append((column, f"{name[:60]} ({example})" if example else name[:60]))
    return choices
