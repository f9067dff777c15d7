"""A meter that was replaced or rolled over."""

from decimal import Decimal

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.web.forms.fields import HoursField
from fleet.web.forms.machines import MomentForm

WRAPS = [(str(value), f"{value:,} h".replace(",", "\u202f")) for value in (1_000, 10_000, 100_000)]


class ReplacedForm(MomentForm):
    """A new meter took the old one's place."""

    happened = forms.CharField(widget=forms.HiddenInput, initial="replaced")
    old_shows = HoursField(
        label=_("The old meter's last figure"), help_text=_("If it wasn't written down, your best estimate.")
    )
    new_shows = HoursField(label=_("The new meter's first figure"), help_text=_("Usually 0."))
    note = forms.CharField(label=_("Note"), required=False, max_length=2000)

    field_order = ["old_shows", "new_shows", "at", "note"]


class RolledOverForm(MomentForm):
    """The meter ran past its last figure and began at zero again."""

    happened = forms.CharField(widget=forms.HiddenInput, initial="rolled over")
    wraps_at = forms.TypedChoiceField(
        label=_("It starts at zero again after"),
        choices=[("", _("Choose one")), *WRAPS],
        coerce=Decimal,
        error_messages={"required": _("Choose after how many hours it starts at zero again.")},
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=2000)

    field_order = ["wraps_at", "at", "note"]
