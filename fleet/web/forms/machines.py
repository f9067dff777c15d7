"""Machines, types and attachments as they are entered and changed."""

from typing import Any

from django import forms
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

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
from fleet.web.forms.house import Form
from fleet.web.forms.readings import MachineChoice, offer_metered


class MachineForm(Form):
    """The facts of one machine."""

    tag = forms.CharField(
        label=_("Fleet number"),
        max_length=30,
        help_text=_("The short number painted on it, such as T-07."),
        error_messages={"required": _("Give the fleet number painted on it.")},
    )
    type: "forms.ModelChoiceField[MachineType]" = forms.ModelChoiceField(
        None,
        label=_("Model"),
        empty_label=_("Choose one"),
        error_messages={"required": _("Choose a model.")},
    )
    yard: "forms.ModelChoiceField[Yard]" = forms.ModelChoiceField(
        None,
        label=_("Yard"),
        empty_label=_("Choose one"),
        error_messages={"required": _("Choose a yard.")},
    )
    serial = forms.CharField(label=_("Serial number"), max_length=60, required=False)
    pin = forms.CharField(
        label=_("Product identification number"),
        max_length=20,
        required=False,
        help_text=_("PIN: the 17 letters and figures on its plate. Telematics finds it by them."),
    )
    in_service_on = day_field(
        label=_("In service since"),
        help_text=_("The day it began work here. Calendar intervals count from it."),
        error_messages={"required": _("Choose the day it began work here.")},
    )
    hours_at_start = HoursField(
        label=_("Hours on the meter that day"),
        required=False,
        help_text=_("0 for a new machine. Leave it empty if not known."),
    )
    condition = forms.ChoiceField(
        label=_("Works in"),
        choices=WorkingCondition.choices,
        initial=WorkingCondition.NORMAL,
        widget=forms.RadioSelect,
        help_text=_("Some intervals are shorter in hard conditions."),
        error_messages={"required": _("Choose the conditions it works in.")},
    )
    fitments: "forms.ModelMultipleChoiceField[Fitment]" = forms.ModelMultipleChoiceField(
        None,
        label=_("Fitted with"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Each brings its own tasks."),
    )
    for_hire = forms.BooleanField(label=_("For hire: goes out at the gate"), required=False)
    price = PlainDecimalField(label=_("Purchase price"), required=False, max_digits=12)
    note = forms.CharField(
        label=_("Note"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
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


class RetireForm(Form):
    """The last day of a machine here."""

    on = day_field(label=_("Retired on"), error_messages={"required": _("Choose its last day here.")})


class TypeForm(Form):
    """A make and model."""

    maker = forms.CharField(
        label=_("Maker"), max_length=80, error_messages={"required": _("Give the maker's name.")}
    )
    model = forms.CharField(
        label=_("Model"), max_length=80, error_messages={"required": _("Give the model.")}
    )
    category = forms.ChoiceField(
        label=_("Category"),
        choices=[("", _("Choose one")), *Category.choices],
        error_messages={"required": _("Choose a category.")},
    )
    fitments: "forms.ModelMultipleChoiceField[Fitment]" = forms.ModelMultipleChoiceField(
        None,
        label=_("Can be fitted with"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    new_fitments = forms.CharField(
        label=_("Other fitments"),
        required=False,
        max_length=400,
        help_text=_("Things with tasks of their own, separated by commas: cab, particulate filter."),
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


class AttachmentForm(Form):
    """The facts of an attachment."""

    tag = forms.CharField(
        label=_("Fleet number"),
        max_length=30,
        help_text=_("The short number painted on it, such as A-03."),
        error_messages={"required": _("Give the fleet number painted on it.")},
    )
    type: "forms.ModelChoiceField[MachineType]" = forms.ModelChoiceField(
        None,
        label=_("Model"),
        empty_label=_("Choose one"),
        error_messages={"required": _("Choose a model.")},
    )
    yard: "forms.ModelChoiceField[Yard]" = forms.ModelChoiceField(
        None,
        label=_("Yard"),
        empty_label=_("Choose one"),
        error_messages={"required": _("Choose a yard.")},
    )
    serial = forms.CharField(label=_("Serial number"), max_length=60, required=False)
    in_service_on = day_field(
        label=_("In service since"), error_messages={"required": _("Choose the day it began work here.")}
    )
    hours_before = HoursField(
        label=_("Hours before it came here"),
        initial=0,
        help_text=_("0 for a new one. From then on it counts the hours of the machine it is mounted on."),
    )

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        own = {"organisation_id": member.organisation_id}
        rows_choice(self, "type").queryset = MachineType.objects.filter(**own, category=Category.ATTACHMENT)
        rows_choice(self, "yard").queryset = Yard.objects.filter(**own)


class MountForm(Form):
    """Onto which machine an attachment goes, and when."""

    machine = MachineChoice(None, empty_label=_("Choose a machine"), label=_("Mounted on"))
    at = WallTimeField(label=_("When"), required=False, help_text=_("Leave it empty if it is now."))

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_metered(self, member)

    def clean(self) -> dict[str, Any]:
        """Turn the yard's wall time into a moment."""
        machine = self.cleaned_data.get("machine")
        return at_moment(self, machine) if machine else self.cleaned_data


class MomentForm(Form):
    """When something was done at a machine."""

    at = WallTimeField(label=_("When"), required=False, help_text=_("Leave it empty if it is now."))

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
