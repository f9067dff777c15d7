"""What is asked when one machine departs from its program."""

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.models import Machine
from fleet.web.forms.fields import rows_choice
from fleet.web.forms.house import Form
from servicing.models import ProgramVersion, Task
from servicing.web.forms.program_rows import Number

OWN, LEFT_OUT = "interval", "left_out"


class DepartForm(Form):
    """Which task, what instead, and why."""

    task: "forms.ModelChoiceField[Task]" = forms.ModelChoiceField(
        None,
        label=_("Task"),
        empty_label=_("Choose the task"),
        error_messages={"required": _("Choose a task.")},
    )
    how = forms.ChoiceField(
        label=_("On this machine"),
        choices=[(OWN, _("Another interval")), (LEFT_OUT, _("Left out"))],
        initial=OWN,
        widget=forms.RadioSelect,
    )
    every_hours = Number(unit="h", label=_("Every (hours)"), max_length=12)
    every_months = forms.IntegerField(
        label=_("Every (months)"),
        required=False,
        min_value=1,
        max_value=600,
        widget=forms.NumberInput(attrs={"inputmode": "numeric", "data-unit": _("months")}),
        help_text=_("If both, whichever comes first."),
    )
    reason = forms.CharField(
        label=_("Why"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Shown on the machine with your name."),
        error_messages={"required": _("Say why.")},
    )

    def __init__(self, *args: Any, machine: Machine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        current = ProgramVersion.objects.current().filter(program__machine_type=machine.type_id)
        rows_choice(self, "task").queryset = Task.objects.filter(version__in=current).select_related(
            "version__program"
        )

    def clean_every_hours(self) -> Any:
        """Return hours above zero, or None."""
        hours = self.cleaned_data["every_hours"]
        if hours is not None and hours <= 0:
            raise forms.ValidationError(gettext("Enter a number above zero."))
        return hours

    def entry(self) -> dict[str, Any]:
        """Return what the process takes."""
        entry = dict(self.cleaned_data)
        left_out = entry.pop("how") == LEFT_OUT
        return {**entry, "left_out": left_out}
