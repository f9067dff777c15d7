"""Faults as they are written down."""

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.web.forms.fields import PhotoField
from fleet.web.forms.house import Form
from servicing.models import Fault


class FaultForm(Form):
    """One fault."""

    text = forms.CharField(
        label=_("What is wrong"),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Where on the machine, and what you saw, heard or smelt."),
        error_messages={"required": _("Say what is wrong.")},
    )
    severity = forms.ChoiceField(
        label=_("How bad is it"),
        choices=Fault.Severity.choices,
        initial=Fault.Severity.SOON,
        widget=forms.RadioSelect,
        error_messages={"required": _("Say how bad it is.")},
    )
    photo = PhotoField(
        label=_("Photo"),
        required=False,
        help_text=_("JPEG, PNG or WebP, at most 10 MB. Take it before you clean."),
    )


class JudgeForm(Form):
    """How bad a fault is after all."""

    severity = forms.ChoiceField(
        label=_("How bad is it"), choices=Fault.Severity.choices, widget=forms.RadioSelect
    )
    reason = forms.CharField(
        label=_("Why"),
        max_length=500,
        help_text=_("It is added to the fault, with your name and the day."),
        error_messages={"required": _("Say why, so that others can follow.")},
    )


class WalkRoundFault(FaultForm):
    """One of the faults of a walk round; left empty when there is none."""

    def clean(self) -> dict[str, Any]:
        """Ask for words where only a photo was given."""
        if "text" in self.errors and self.cleaned_data.get("photo"):
            self.errors["text"] = self.error_class([gettext("Say what the photo shows.")])
        return self.cleaned_data


class BaseWalkRound(forms.BaseFormSet):
    """The faults of a walk round, in the order they were written."""

    @property
    def entered(self) -> list[dict[str, Any]]:
        """What was entered, without the empty ones."""
        return [form.cleaned_data for form in self.forms if form.cleaned_data.get("text")]


WalkRound = forms.formset_factory(WalkRoundFault, formset=BaseWalkRound, extra=3, max_num=3, absolute_max=10)
