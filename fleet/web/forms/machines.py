"""Machines, types and attachments as they are entered and changed."""

from typing import Any

from django import forms
from django.db.models import Q

from fleet.machines.register import Facts
from fleet.models import Fitment, Machine, MachineType, Member, Yard
from fleet.models.machine import Category, WorkingCondition
from fleet.web.forms.fields import (
    HoursField,
    PlainDecimalField,
    WallTimeField,
    day_field,
    in_zone,
    rows_choice,
)
from fleet.web.forms.readings import MachineChoice, offer_metered


class MachineForm(forms.Form):
    """The facts of one machine."""

    tag = forms.CharField(label="Tag", max_length=30, help_text="The short name painted on it, such as T-07.")
    type: "forms.ModelChoiceField[MachineType]" = forms.ModelChoiceField(
        None, label="Make and model", empty_label="Choose one"
    )
    yard: "forms.ModelChoiceField[Yard]" = forms.ModelChoiceField(
        None, label="Yard", empty_label="Choose one"
    )
    serial = forms.CharField(label="Serial number", max_length=60, required=False)
    pin = forms.CharField(
        label="Product identification number",
        max_length=20,
        required=False,
        help_text="The 17 letters and figures on its plate; telematics knows it by them.",
    )
    in_service_on = day_field(
        label="In service since", help_text="The day it began work here; calendar intervals run from it."
    )
    hours_at_start = HoursField(
        label="Hours on the meter that day",
        required=False,
        help_text="0 for a new machine. Leave it empty if nobody knows.",
    )
    condition = forms.ChoiceField(
        label="Works in",
        choices=WorkingCondition.choices,
        initial=WorkingCondition.NORMAL,
        widget=forms.RadioSelect,
        help_text="Some intervals are shorter in hard conditions.",
    )
    fitments: "forms.ModelMultipleChoiceField[Fitment]" = forms.ModelMultipleChoiceField(
        None,
        label="Fitted with",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Tasks that need one of these come with it.",
    )
    for_hire = forms.BooleanField(label="For hire: goes out through the gate", required=False)
    price = PlainDecimalField(label="What it cost to buy", required=False, max_digits=12)
    note = forms.CharField(
        label="Note", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args: Any, member: Member, machine: Machine | None = None, **kwargs: Any) -> None:
        if machine is not None:
            kwargs["initial"] = {name: getattr(machine, name) for name in Facts.__dataclass_fields__} | {
                "fitments": machine.fitments.all()
            }
        super().__init__(*args, **kwargs)
        own = {"organisation_id": member.organisation_id}
        attachments, types = Q(category=Category.ATTACHMENT), MachineType.objects.filter(**own)
        rows_choice(self, "type").queryset = types.filter(
            attachments if machine is not None and machine.is_attachment else ~attachments
        )
        rows_choice(self, "yard").queryset = Yard.objects.filter(**own)
        fitments = Fitment.objects.filter(**own)
        rows_choice(self, "fitments").queryset = fitments
        self.fields["price"].widget.attrs["data-unit"] = member.organisation.currency
        if machine is not None:
            del self.fields["hours_at_start"]
        if not fitments.exists():
            del self.fields["fitments"]

    def facts(self) -> Facts:
        """Return what was entered."""
        return Facts(**{name: self.cleaned_data[name] for name in Facts.__dataclass_fields__})


class RetireForm(forms.Form):
    """The last day of a machine here."""

    on = day_field(label="Retired on")


class TypeForm(forms.Form):
    """A make and model."""

    maker = forms.CharField(label="Maker", max_length=80)
    model = forms.CharField(label="Model", max_length=80)
    category = forms.ChoiceField(label="What it is", choices=[("", "Choose one"), *Category.choices])
    fitments: "forms.ModelMultipleChoiceField[Fitment]" = forms.ModelMultipleChoiceField(
        None,
        label="May be fitted with",
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    new_fitments = forms.CharField(
        label="Other fitments",
        required=False,
        max_length=400,
        help_text="Things that need service of their own, with commas between: cab, particulate filter.",
    )

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fitments = Fitment.objects.filter(organisation_id=member.organisation_id)
        rows_choice(self, "fitments").queryset = fitments
        if not fitments.exists():
            del self.fields["fitments"]

    def clean_new_fitments(self) -> list[str]:
        """Return the names."""
        return [name.strip() for name in self.cleaned_data["new_fitments"].split(",") if name.strip()]


class AttachmentForm(forms.Form):
    """The facts of an attachment."""

    tag = forms.CharField(label="Tag", max_length=30, help_text="The short name painted on it, such as A-03.")
    type: "forms.ModelChoiceField[MachineType]" = forms.ModelChoiceField(
        None, label="Make and model", empty_label="Choose one"
    )
    yard: "forms.ModelChoiceField[Yard]" = forms.ModelChoiceField(
        None, label="Yard", empty_label="Choose one"
    )
    serial = forms.CharField(label="Serial number", max_length=60, required=False)
    in_service_on = day_field(label="In service since")
    hours_before = HoursField(
        label="Hours it had run before it came here",
        initial=0,
        help_text="0 for a new one; from then on it runs the hours of the machine it hangs on.",
    )

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        own = {"organisation_id": member.organisation_id}
        rows_choice(self, "type").queryset = MachineType.objects.filter(**own, category=Category.ATTACHMENT)
        rows_choice(self, "yard").queryset = Yard.objects.filter(**own)


class MountForm(forms.Form):
    """Onto which machine an attachment goes, and when."""

    machine = MachineChoice(None, empty_label="Choose the machine", label="Onto which machine")
    at = WallTimeField(label="When", required=False, help_text="Leave it empty for now.")

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_metered(self, member)

    def clean(self) -> dict[str, Any]:
        """Turn the yard's wall time into a moment."""
        machine = self.cleaned_data.get("machine")
        return at_moment(self, machine) if machine else self.cleaned_data


class MomentForm(forms.Form):
    """When something was done at a machine."""

    at = WallTimeField(label="When", required=False, help_text="Leave it empty for now.")

    def __init__(self, *args: Any, machine: Machine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.machine = machine

    def clean(self) -> dict[str, Any]:
        """Turn the yard's wall time into a moment."""
        return at_moment(self, self.machine)


def at_moment(form: forms.Form, machine: Machine) -> dict[str, Any]:
    """Return the form's cleaned data with `at` on the clock of the machine's yard."""
    wall = form.cleaned_data.get("at")
    if wall:
        try:
            form.cleaned_data["at"] = in_zone(wall, machine.zoneinfo)
        except forms.ValidationError as error:
            form.add_error("at", error)
    return form.cleaned_data
