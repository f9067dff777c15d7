"""What is asked of those who go on against a machine's calendar, and of those who ask for it."""

from typing import TYPE_CHECKING

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.core.errors import FleetError
from fleet.web.forms.house import Form
from fleet.web.forms.refusals import show

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise


def reason_field(label: "StrOrPromise") -> forms.CharField:
    """Return the field for why it is done all the same."""
    return forms.CharField(
        label=label,
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Kept with your name."),
        error_messages={"required": _("Say why.")},
    )


class DespiteForm(Form):
    """A form that asks why, once something is in the way: the field `override_reason` is there only then."""

    WHY = "override_reason"
    why_label: "StrOrPromise" = _("Do it anyway, because")

    def ask_why(self) -> None:
        """Ask for the reason, keeping what was typed."""
        self.fields[self.WHY] = reason_field(self.why_label)

    def ask_why_if_sent(self) -> None:
        """Ask for the reason where one was sent."""
        if self.is_bound and self.WHY in self.data:
            self.ask_why()


def refuse(error: FleetError, form: forms.Form) -> None:
    """Say a refusal at its field, or above the form; ask for the reason where one would do."""
    if isinstance(form, DespiteForm) and error.field == form.WHY:
        form.ask_why()
        form.fields[form.WHY].required = True  # as it is shown; whether it is needed, the process decides
    show(error, form)


class AskForm(Form):
    """What those who decide should know, if anything."""

    ask_note = forms.CharField(
        label=_("Note for whoever decides"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("They see it on their Today page until it is answered."),
    )


class AnswerForm(Form):
    """What was done about an ask."""

    outcome = forms.CharField(
        label=_("What was done, or why not"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": _("Say what was done, or why not.")},
    )
