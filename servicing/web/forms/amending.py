"""The form that corrects a closed order: the closing form as it was filled in, and why it is changed."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from servicing.measurements import limits
from servicing.web.forms.closing import ClosingForm


class AmendForm(ClosingForm):
    """What the order says, to be put right. showed: what the meter showed at closing; None: not known."""

    reason = forms.CharField(
        label=_("What was wrong"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": _("Say what was wrong.")},
    )

    def __init__(self, *args: Any, showed: Decimal | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["hours"].label = _("The hour meter showed")
        self.fields["hours"].initial = None if showed is None else limits.shown(showed)
        del self.fields["hours_confirmed"]
