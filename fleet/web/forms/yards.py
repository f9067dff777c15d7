"""Yards, and what holds for the whole organisation."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.accounts.yards import Settings
from fleet.models import Organisation, Yard
from fleet.web.forms.fields import choice
from fleet.web.forms.house import Form
from fleet.web.forms.zones import zone_choices


class YardForm(Form):
    """A yard."""

    name = forms.CharField(
        label=_("Name"), max_length=120, error_messages={"required": _("Give the yard a name.")}
    )
    zone = forms.ChoiceField(
        label=_("Time zone"), required=False, help_text=_("It decides when a day begins and ends there.")
    )

    def __init__(
        self, *args: Any, organisation: Organisation, yard: Yard | None = None, **kwargs: Any
    ) -> None:
        if yard is not None:
            kwargs["initial"] = {"name": yard.name, "zone": yard.zone}
        super().__init__(*args, **kwargs)
        usual = ("", _("The organisation's: {zone}").format(zone=organisation.zone))
        choice(self, "zone").choices = [usual, *_with(yard.zone if yard else "")]


class SettingsForm(Form):
    """What holds for the whole organisation."""

    name = forms.CharField(
        label=_("Name of the organisation"),
        max_length=120,
        error_messages={"required": _("Give the organisation's name.")},
    )
    currency = forms.RegexField(
        r"^[A-Za-z]{3}$",
        label=_("Currency"),
        help_text=_("Three letters, such as EUR, USD or KES. Amounts already entered are not converted."),
        error_messages={
            "required": _("Give the currency, such as EUR."),
            "invalid": _("Give the three letters of the currency, such as EUR."),
        },
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "maxlength": 3, "size": 4}),
    )
    zone = forms.ChoiceField(label=_("Time zone"), error_messages={"required": _("Choose the time zone.")})
    units = forms.ChoiceField(
        label=_("Units"),
        choices=Organisation.Units.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose the units.")},
    )
    date_order = forms.ChoiceField(
        label=_("How dates are written in your files"),
        choices=[("", _("Ask with the next file")), *Organisation.DateOrder.choices],
        required=False,
    )
    digest_hour = forms.TypedChoiceField(
        label=_("The daily mail goes out at"),
        choices=[(hour, f"{hour:02d}:00") for hour in range(24)],
        coerce=int,
        error_messages={"required": _("Choose the hour.")},
    )
    notice_days = forms.IntegerField(
        label=_("Tell managers of a task this many days ahead"),
        error_messages={"required": _("Give the number of days; 0 for none.")},
        min_value=0,
        max_value=365,
        widget=forms.NumberInput(attrs={"data-unit": _("days"), "inputmode": "numeric"}),
    )
    hire_margin_days = forms.IntegerField(
        label=_("Service a unit before it goes out if a task is likely to fall due within"),
        error_messages={"required": _("Give the number of days; 0 for none.")},
        min_value=0,
        max_value=365,
        widget=forms.NumberInput(attrs={"data-unit": _("days"), "inputmode": "numeric"}),
    )

    def __init__(self, *args: Any, organisation: Organisation, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(organisation, name) for name in Settings.__dataclass_fields__}
        super().__init__(*args, **kwargs)
        choice(self, "zone").choices = _with(organisation.zone)

    def clean_currency(self) -> str:
        """Return the code in capitals."""
        return self.cleaned_data["currency"].upper()

    def settings(self) -> Settings:
        """Return what was entered."""
        return Settings(**self.cleaned_data)


def _with(zone: str) -> list[Any]:
    """The zones to choose from, with one that is in use under an older name."""
    choices = zone_choices()
    known = {name for _region, group in choices if not isinstance(group, str) for name, _place in group}
    return [*choices, *([(zone, zone)] if zone and zone != "UTC" and zone not in known else [])]
