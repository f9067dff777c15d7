"""What is asked when an order is made, assigned, put on hold, cancelled or looked for."""

from typing import Any

import django_filters
from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.models import Machine
from fleet.models.machine import LONGEST_SEARCH
from fleet.web.forms.despite import DespiteForm
from fleet.web.forms.fields import rows_choice
from fleet.web.forms.house import Form
from fleet.web.guards import MemberRequest
from servicing.models import Duty, Fault, Technician, WorkOrder
from servicing.models.workorder import WorkOrderQuerySet
from servicing.workorders.former_names import STATES

DAY: dict[str, Any] = {"widget": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}
NOBODY = _("Not assigned")


def technicians() -> QuerySet[Technician]:
    """The technicians who can be given work, in the organisation whose scope is open."""
    return Technician.objects.working().select_related("member__user")


class NewOrderForm(DespiteForm):
    """What is to be done on one machine, by whom and when."""

    why_label = _("Plan it for that day anyway, because")

    duties: "forms.ModelMultipleChoiceField[Duty]" = forms.ModelMultipleChoiceField(
        None, label=_("Work"), required=False
    )
    faults: "forms.ModelMultipleChoiceField[Fault]" = forms.ModelMultipleChoiceField(
        None, label=_("Faults"), required=False
    )
    technician: "forms.ModelChoiceField[Technician]" = forms.ModelChoiceField(
        None, label=_("Technician"), required=False, empty_label=NOBODY
    )
    planned_for = forms.DateField(label=_("Planned for"), required=False, **DAY)
    note = forms.CharField(
        label=_("Note"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("What the technician should know."),
    )

    def __init__(self, *args: Any, machine: Machine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows_choice(self, "duties").queryset = Duty.objects.live().on_stop_of(machine)
        rows_choice(self, "faults").queryset = Fault.objects.open().on_stop_of(machine)
        rows_choice(self, "technician").queryset = technicians()
        self.ask_why_if_sent()


class MoveForm(Form):
    """Moving an order on: from which revision."""

    revision = forms.IntegerField(widget=forms.HiddenInput)


class ReasonForm(MoveForm):
    """Putting it on hold or cancelling it: why."""

    reason = forms.CharField(
        label=_("Reason"), max_length=500, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )


class AssignForm(DespiteForm, MoveForm):
    """Who does it, and on which day."""

    why_label = _("Plan it for that day anyway, because")

    technician: "forms.ModelChoiceField[Technician]" = forms.ModelChoiceField(
        None, label=_("Technician"), required=False, empty_label=NOBODY
    )
    planned_for = forms.DateField(label=_("Planned for"), required=False, **DAY)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows_choice(self, "technician").queryset = technicians()
        self.ask_why_if_sent()


def _technicians(request: MemberRequest | None) -> QuerySet[Technician]:
    if request is None:
        return Technician.objects.none()
    return Technician.objects.filter(organisation=request.organisation).select_related("member__user")


class OrderFilter(django_filters.FilterSet):
    """By state, machine and technician; the open ones unless another state is asked for.

    `is_unknown`: whether that was no state there is.
    """

    OPEN, EVERY = "open", "every"

    state = django_filters.ChoiceFilter(
        method="in_state",
        label=pgettext_lazy("of a list", "State"),
        choices=[
            (OPEN, pgettext_lazy("state of an order", "Open")),
            *WorkOrder.State.choices,
            (EVERY, _("Every state")),
        ],
        empty_label=None,
    )
    machine = django_filters.CharFilter(
        method="of_machine",
        max_length=LONGEST_SEARCH,
        label=_("Machine"),
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    technician = django_filters.ModelChoiceFilter(
        queryset=_technicians,
        label=_("Technician"),
        empty_label=_("Everyone"),
        error_messages={"invalid_choice": _("There is no such technician; choose another.")},
    )

    class Meta:
        model = WorkOrder
        form = Form
        fields: list[str] = []

    def __init__(self, data: Any, *args: Any, **kwargs: Any) -> None:
        data = data.copy()
        asked = data.get("state") or self.OPEN
        asked = STATES.get(asked, asked)
        self.is_unknown = asked not in (self.OPEN, self.EVERY, *WorkOrder.State.values)
        data["state"] = self.OPEN if self.is_unknown else asked
        super().__init__(data, *args, **kwargs)

    def of_machine(self, queryset: WorkOrderQuerySet, name: str, value: str) -> WorkOrderQuerySet:
        """Orders of the machines that what was typed may mean."""
        return queryset.filter(machine__in=Machine.objects.searched(value).values("pk"))

    def in_state(self, queryset: WorkOrderQuerySet, name: str, value: str) -> WorkOrderQuerySet:
        """Orders in that state."""
        if value == self.OPEN:
            return queryset.open()
        return queryset if value == self.EVERY else queryset.filter(state=value)
