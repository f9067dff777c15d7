"""A file of readings, and which of its columns holds what."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext

from fleet.core.number_reader import COMMA, POINT
from fleet.imports.column_mapping import Plan, headings
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
    "hours": (_("Hours on the meter"), ""),
    "note": (_("Note"), ""),
}
OPTIONAL = ("time", "note")
ACCEPT = ".csv,.txt,.tsv,.xlsx,text/csv,application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class SendForm(Form):
    """A file to send."""

    file = forms.FileField(
        label=_("File"),
        allow_empty_file=True,  # an empty one gets the same clear sentence as any other that can't be read
        widget=forms.FileInput(attrs={"accept": ACCEPT}),
    )


class PlanForm(Form):
    """Which column holds what, and how days and fractions are written."""

    heading = forms.BooleanField(label=_("The first row holds the column names"), required=False)
    order = forms.ChoiceField(
        label=_("How dates are written"),
        choices=Organisation.DateOrder.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose how the dates in this file are written.")},
    )
    decimal = forms.ChoiceField(
        label=_("Decimal mark of the hours"),
        choices=[(POINT, _("A point: 1204.5")), (COMMA, _("A comma: 1204,5"))],
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose how the hours in this file are written.")},
    )
    field_order = [*ROLES, "order", "decimal", "heading"]

    def __init__(self, *args: Any, sample: Sequence[FileRow], plan: Plan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs | {"initial": plan.to_keep()})
        columns = _columns(sample, plan)
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
        """Refuse one column for two things."""
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
        return entered

    def plan(self) -> Plan:
        """Return what was chosen."""
        return Plan(**{name: self.cleaned_data[name] for name in self.fields})


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
