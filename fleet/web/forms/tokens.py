"""Tokens as they are asked for."""

import re
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from fleet.models import ApiToken, Machine, Member, Yard
from fleet.models.access import LASTS
from fleet.web.forms.fields import WallTimeField, in_zone, rows_choice

LASTING = [("30", "30 days"), ("90", "90 days"), (str(LASTS.days), "a year")]
APART = re.compile(r"[,;\n]")


class TokenForm(forms.Form):
    """A token to be made; a device's may be limited to yards and to machines, named by their tags."""

    name = forms.CharField(
        label="What will use it", max_length=80, help_text="Such as: spreadsheet in the office, box on T-07."
    )
    stands_for = forms.ChoiceField(
        label="It stands for",
        choices=[
            ("me", "Me: it may do what I may do"),
            ("device", "A device: it may only send readings"),
        ],
        initial="me",
        widget=forms.RadioSelect,
    )
    lasts = forms.ChoiceField(
        label="A token of yours lasts",
        choices=LASTING,
        initial=LASTING[-1][0],
        required=False,
        widget=forms.RadioSelect,
        help_text="A device's lasts until somebody ends it.",
    )
    yards: "forms.ModelMultipleChoiceField[Yard]" = forms.ModelMultipleChoiceField(
        None,
        label="A device sends for machines in",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Where a machine stands when its reading comes in. None ticked and no machine named: all.",
    )
    machines = forms.CharField(
        label="A device sends for these machines",
        required=False,
        help_text="Their tags, with commas between: T-07, T-12.",
    )

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.member = member
        rows_choice(self, "yards").queryset = Yard.objects.filter(organisation=member.organisation_id)
        if not member.rights.manage_fleet:
            for name in ("stands_for", "yards", "machines"):
                del self.fields[name]
            self.fields["lasts"].label, self.fields["lasts"].help_text = "It lasts", ""

    def clean_lasts(self) -> timedelta:
        """How long; a year where nothing is said."""
        return timedelta(days=int(self.cleaned_data["lasts"] or LASTS.days))

    def clean_machines(self) -> list[Machine]:
        """Find the machines by their tags; say which are unknown."""
        tags = {tag.strip() for tag in APART.split(self.cleaned_data["machines"]) if tag.strip()}
        visible = Machine.objects.visible_to(self.member).metered()
        found = {tag: visible.called(tag) for tag in tags}
        machines = list({machine.pk: machine for machine in found.values() if machine}.values())
        unknown = sorted(tag for tag, machine in found.items() if machine is None)
        if unknown:
            raise forms.ValidationError(f"No machine here is called {', '.join(unknown)}.")
        return machines

    def clean(self) -> dict[str, Any]:
        """Refuse limits on one's own token, which would seem to hold and don't."""
        given = self.cleaned_data
        if not self.device and (given.get("yards") or given.get("machines")):
            self.add_error("stands_for", "Only a device's token is limited to yards or machines.")
        return given

    @property
    def device(self) -> bool:
        """Whether a device's token was asked for."""
        return self.cleaned_data.get("stands_for") == "device"


class RotationForm(forms.Form):
    """A new secret for a token, and until when the old one is good."""

    old_until = WallTimeField(
        label="The old secret is good until",
        required=False,
        help_text="Long enough to carry the new one to the device. Empty: the old one ends at once.",
    )

    lasts = forms.ChoiceField(
        label="The new secret lasts",
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
