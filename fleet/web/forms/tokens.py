"""Tokens as they are asked for."""

import re
from datetime import datetime, timedelta
from functools import reduce
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.models import ApiToken, Machine, Member, Yard
from fleet.models.access import LASTS
from fleet.web.forms.fields import WallTimeField, in_zone, rows_choice
from fleet.web.forms.house import Form

LASTING = [("30", _("30 days")), ("90", _("90 days")), (str(LASTS.days), _("a year"))]
APART = re.compile(r"[,;\n]")


class TokenForm(Form):
    """A token to be made; a device's may be limited to yards and to machines."""

    name = forms.CharField(
        label=_("What will use it"),
        max_length=80,
        help_text=_("For example: spreadsheet in the office, logger on T-07."),
        error_messages={"required": _("Say what will use it, so that you know which one to end.")},
    )
    stands_for = forms.ChoiceField(
        label=_("It is for"),
        choices=[
            ("me", _("Me: it can do what I can do")),
            ("device", _("A device: it can only send readings")),
        ],
        initial="me",
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose who or what it is for.")},
    )
    lasts = forms.ChoiceField(
        label=_("Your token lasts"),
        choices=LASTING,
        initial=LASTING[-1][0],
        required=False,
        widget=forms.RadioSelect,
        help_text=_("A device's token lasts until somebody ends it."),
    )
    yards: "forms.ModelMultipleChoiceField[Yard]" = forms.ModelMultipleChoiceField(
        None,
        label=_("The device sends for machines in"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_(
            "The yard a machine is in when its reading arrives. Tick none and name no machine for all."
        ),
    )
    machines = forms.CharField(
        label=_("The device sends for these machines"),
        required=False,
        help_text=_("Their fleet numbers, separated by commas: T-07, T-12."),
    )

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.member = member
        rows_choice(self, "yards").queryset = Yard.objects.filter(organisation=member.organisation_id)
        if not member.rights.manage_fleet:
            for name in ("stands_for", "yards", "machines"):
                del self.fields[name]
            self.fields["lasts"].label, self.fields["lasts"].help_text = _("It lasts"), ""

    def clean_lasts(self) -> timedelta:
        """How long; a year where nothing is said."""
        return timedelta(days=int(self.cleaned_data["lasts"] or LASTS.days))

    def clean_machines(self) -> list[Machine]:
        """Find the machines by their fleet numbers; say which are unknown."""
        tags = {tag.strip() for tag in APART.split(self.cleaned_data["machines"]) if tag.strip()}
        visible = Machine.objects.visible_to(self.member).metered()
        found = {tag: visible.called(tag) for tag in tags}
        machines = list({machine.pk: machine for machine in found.values() if machine}.values())
        unknown = sorted(tag for tag, machine in found.items() if machine is None)
        if unknown:
            sentence = _("No machine has the fleet number {tags}.")
            raise forms.ValidationError(sentence.format(tags=reduce(_either, unknown)))
        return machines

    def clean(self) -> dict[str, Any]:
        """Refuse limits on one's own token, which would seem to hold and don't."""
        given = self.cleaned_data
        if not self.device and (given.get("yards") or given.get("machines")):
            self.add_error("stands_for", _("Only a device's token can be limited to yards or machines."))
        return given

    @property
    def device(self) -> bool:
        """Whether a device's token was asked for."""
        return self.cleaned_data.get("stands_for") == "device"


def _either(one: str, other: str) -> str:
    return _("{one} or {other}").format(one=one, other=other)


class RotationForm(Form):
    """A new secret for a token, and until when the old one is good."""

    old_until = WallTimeField(
        label=_("The old secret works until"),
        required=False,
        help_text=_(
            "Allow time to take the new one to the device. Leave it empty to end the old one at once."
        ),
    )

    lasts = forms.ChoiceField(
        label=_("The new secret lasts"),
        choices=LASTING,
        initial=LASTING[-1][0],
        required=False,
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, member: Member, token: ApiToken, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.member = member
        if token.is_device:
            del self.fields["lasts"]

    def clean_lasts(self) -> timedelta:
        """How long; a year where nothing is said."""
        return timedelta(days=int(self.cleaned_data["lasts"] or LASTS.days))

    def clean_old_until(self) -> datetime | None:
        """The moment at which the organisation's clocks show that."""
        wall = self.cleaned_data["old_until"]
        return in_zone(wall, ZoneInfo(self.member.organisation.zone)) if wall else None
