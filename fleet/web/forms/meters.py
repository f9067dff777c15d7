"""A meter that was replaced or rolled over."""

from decimal import Decimal
from typing import Any

from django import forms

from fleet.web.forms.fields import HoursField
from fleet.web.forms.machines import MomentForm

WRAPS = [(str(value), f"{value:,} h".replace(",", "\u202f")) for value in (1_000, 10_000, 100_000)]


class MeterForm(MomentForm):
    """What happened to the meter, when, and what it showed."""

    happened = forms.ChoiceField(
        label="What happened",
        choices=[
            ("replaced", "A new meter took the old one's place"),
            ("rolled over", "The meter ran past its last figure and began at zero again"),
        ],
        initial="replaced",
        widget=forms.RadioSelect,
    )
    old_shows = HoursField(label="The old meter's last figure", required=False)
    new_shows = HoursField(label="The new meter's first figure", required=False, help_text="Mostly 0.")
    wraps_at = forms.TypedChoiceField(
        label="It begins at zero again after",
        choices=[("", "Choose one"), *WRAPS],
        coerce=Decimal,
        empty_value=None,
        required=False,
    )
    note = forms.CharField(label="Note", required=False, max_length=2000)

    field_order = ["happened", "old_shows", "new_shows", "wraps_at", "at", "note"]

    def clean(self) -> dict[str, Any]:
        """Ask for the figures that belong to what happened."""
        entered = super().clean()
        needed = {
            "replaced": {
                "old_shows": "Write what the old meter showed last; an estimate is better than nothing.",
                "new_shows": "Write what the new meter showed when it was put in; mostly 0.",
            },
            "rolled over": {"wraps_at": "Choose after how many hours it shows zero."},
        }
        for name, sentence in needed.get(entered.get("happened", ""), {}).items():
            if name in entered and entered[name] is None:
                self.add_error(name, sentence)
        return entered
