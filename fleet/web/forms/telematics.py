"""Telematics sources as they are entered, and units as they are decided about."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.models import Member, TelematicsSource, TelematicsUnit
from fleet.telematics.sources import LEAST_MINUTES, MOST_MINUTES, MOST_SILENT_DAYS, Source
from fleet.web.forms.house import Form
from fleet.web.forms.readings import MachineChoice, offer_metered


class SourceForm(Form):
    """A source."""

    name = forms.CharField(
        label=_("Name"),
        max_length=80,
        help_text=_("For example the provider's or the maker's."),
        error_messages={"required": _("Give the source a name.")},
    )
    url = forms.CharField(
        label=_("Address of the fleet snapshot"),
        max_length=500,
        widget=forms.URLInput,
        help_text=_("Its first page, as the provider gives it: https://…/Fleet/1"),
        error_messages={"required": _("Give the address of the fleet snapshot.")},
    )
    login = forms.ChoiceField(
        label=_("Login"),
        choices=TelematicsSource.Login.choices,
        initial=TelematicsSource.Login.BASIC,
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose how to log in.")},
    )
    username = forms.CharField(
        label=_("User name or client id"),
        max_length=200,
        required=False,
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    secret = forms.CharField(
        label=_("Password, token or client secret"),
        max_length=4000,
        required=False,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
        help_text=_("We keep it encrypted and never show it again."),
    )
    token_url = forms.CharField(
        label=_("Token address"),
        max_length=500,
        required=False,
        widget=forms.URLInput,
        help_text=_("For a client id: where the provider issues access tokens."),
    )
    scope = forms.CharField(
        label=_("Scope"),
        max_length=300,
        required=False,
        help_text=_("For a client id, if the provider names one."),
    )
    every_minutes = forms.IntegerField(
        label=_("Read it every"),
        min_value=LEAST_MINUTES,
        max_value=MOST_MINUTES,
        initial=60,
        widget=forms.NumberInput(attrs={"data-unit": _("minutes"), "inputmode": "numeric"}),
        error_messages={"required": _("Give how often to read it.")},
    )
    silent_days = forms.IntegerField(
        label=_("Silence after"),
        min_value=1,
        max_value=MOST_SILENT_DAYS,
        initial=7,
        widget=forms.NumberInput(attrs={"data-unit": _("days"), "inputmode": "numeric"}),
        help_text=_("A linked machine that has sent nothing for so long stands on Today."),
        error_messages={"required": _("Give after how many days a machine is silent.")},
    )
    active = forms.BooleanField(label=_("Switched on"), required=False, initial=True)

    def __init__(self, *args: Any, source: TelematicsSource | None = None, **kwargs: Any) -> None:
        if source is not None:
            kwargs["initial"] = {
                name: getattr(source, name) for name in Source.__dataclass_fields__ if name != "secret"
            }
        super().__init__(*args, **kwargs)
        if source is not None and source.secret:
            self.fields["secret"].help_text = _("Leave it empty to keep the one that is stored.")

    def facts(self) -> Source:
        """Return what was entered."""
        return Source(**self.cleaned_data)


class UnitForm(Form):
    """What becomes of a unit."""

    decision = forms.ChoiceField(
        label=_("This unit"),
        choices=[
            ("tie", _("is one of our machines")),
            ("ignore", _("is ignored: its hours are not counted")),
            ("loosen", _("waits: the next snapshot links it if its numbers match")),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose what to do with this unit.")},
    )
    machine = MachineChoice(None, label=_("Which machine"), required=False, empty_label=_("Choose a machine"))

    def __init__(self, *args: Any, unit: TelematicsUnit, member: Member, **kwargs: Any) -> None:
        chosen = "ignore" if unit.ignored else "tie"
        kwargs["initial"] = {"decision": chosen, "machine": unit.machine_id or unit.proposed_id}
        super().__init__(*args, **kwargs)
        offer_metered(self, member)

    def clean(self) -> dict[str, Any]:
        """Ask for the machine where one is meant."""
        tie = self.cleaned_data.get("decision") == "tie"
        if tie and not self.cleaned_data.get("machine") and "machine" not in self.errors:
            self.add_error("machine", _("Choose a machine."))
        return self.cleaned_data
