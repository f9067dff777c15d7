"""How somebody wants to be spoken to: their language, and how they write figures and days."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.core.languages import DAYS, DECIMAL_MARKS, spoken
from fleet.models import User
from fleet.web.forms.house import Form


class LanguageForm(Form):
    """What is left open follows the browser, and then the language."""

    language = forms.ChoiceField(
        label=_("Language"),
        required=False,
        help_text=_("For pages, sheets and mails. What people typed stays as they typed it."),
    )
    decimal_mark = forms.ChoiceField(
        label=_("Decimal mark"),
        required=False,
        choices=[("", _("Usual for the language")), *DECIMAL_MARKS],
        help_text=_(
            "You can type either. With a comma, spreadsheet files separate their columns with semicolons."
        ),
    )
    days_written = forms.ChoiceField(
        label=_("Dates"), required=False, choices=[("", _("Usual for the language")), *DAYS]
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["language"]
        field.choices = [("", _("Same as your browser")), *spoken()]


def chosen_by(user: User) -> dict[str, str]:
    """Return what somebody chose, as the form begins with it."""
    return {name: getattr(user, name) for name in LanguageForm.base_fields}
