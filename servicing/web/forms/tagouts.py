"""What is asked when a machine is tagged out, and when it is given back to use."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.web.forms.house import Form
from servicing.job_sheet.build import allowed
from servicing.measurements import limits
from servicing.measurements.retest import ReTest
from servicing.models import SafetyFailure
from servicing.web.forms.check_values import Measured, word_field


class PlaceForm(Form):
    """Why nobody may use it."""

    reason = forms.CharField(
        label=_("What is wrong"),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Everybody who asks for the machine reads this."),
        error_messages={"required": _("Say what is wrong.")},
    )


class ClearForm(Form):
    """Why it is safe to use again, and the re-test of every safety check that failed."""

    def __init__(self, *args: Any, failed: Sequence[SafetyFailure], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs | {"label_suffix": ""})
        self.failed = failed
        for result in failed:
            self.fields[f"re_test-{result.pk}"] = _re_test(result)
        self.fields["reason"] = forms.CharField(
            label=gettext("What was done") if failed else gettext("Why it is safe to use again"),
            max_length=2000,
            widget=forms.Textarea(attrs={"rows": 3}),
            help_text=gettext("What was done, and how you know. Kept with your name."),
        )

    def re_tests(self) -> dict[int, ReTest]:
        """The re-tests by the id of the failed result, as the process takes them."""
        return {
            result.pk: ReTest(*value) if isinstance(value, tuple) else ReTest(value)
            for result in self.failed
            if (value := self.cleaned_data.get(f"re_test-{result.pk}"))
        }


def _re_test(result: SafetyFailure) -> forms.Field:
    asked: dict[str, Any] = {
        "label": gettext("Re-test: {check}").format(check=result.label),
        "help_text": gettext("Repeated by you, or as you watched. It passes at: {limits}.").format(
            limits=allowed(result)
        ),
    }
    if result.is_numeric:
        return Measured(limits.units_for(result.unit), initial=("", limits.spelled(result.unit)), **asked)
    return word_field(result.choices, **asked)
