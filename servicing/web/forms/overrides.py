"""What is asked when one machine departs from its program."""

from typing import Any

from django import forms

from fleet.models import Machine
from fleet.web.forms.fields import rows_choice
from fleet.web.forms.house import Form
from servicing.models import ProgramVersion, Task
from servicing.web.forms.program_rows import Number

OWN, LEFT_OUT = "interval", "left_out"


class DepartForm(Form):
    """Which task, what instead, and why."""

    task: "forms.ModelChoiceField[Task]" = forms.ModelChoiceField(
        None, label="Task", empty_label="Choose the task", error_messages={"required": "Choose a task."}
    )
    how = forms.ChoiceField(
        label="On this machine",
        choices=[(OWN, "Another interval"), (LEFT_OUT, "Left out")],
        initial=OWN,
        widget=forms.RadioSelect,
    )
    every_hours = Number(unit="h", label="Every (hours)", max_length=12)
    every_months = forms.IntegerField(
        label="Every (months)",
        required=False,
        min_value=1,
        max_value=600,
        widget=forms.NumberInput(attrs={"inputmode": "numeric", "data-unit": "months"}),
        help_text="If both, whichever comes first.",
    )
    reason = forms.CharField(
        label="Why",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Shown on the machine with your name.",
        error_messages={"required": "Say why."},
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
            raise forms.ValidationError("Enter a number above zero.")
        return hours

    def entry(self) -> dict[str, Any]:
        """Return what the process takes."""
        entry = dict(self.cleaned_data)
        left_out = entry.pop("how") == LEFT_OUT
        return {**entry, "left_out": left_out}
