"""What is asked when a unit goes out or comes back."""

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.models import Booking
from fleet.usage.figures import first_and_last, long_day
from fleet.web.forms.despite import reason_field
from fleet.web.forms.fields import HoursField, PlainDecimalField, rows_choice
from fleet.web.forms.house import Form

EIGHTHS: tuple[str | Promise, ...] = (
    _("Empty"), "1/8", "1/4", "3/8", _("Half"), "5/8", "3/4", "7/8", _("Full"),
)  # fmt: skip
FUEL: list[tuple[str | int, str | Promise]] = [
    ("", _("Not checked")),
    *((round(n * 12.5), said) for n, said in enumerate(EIGHTHS)),
]


def whole(value: str) -> int:
    """Return the per cent of a chosen tank mark."""
    return int(value)


class BookingChoice(forms.ModelChoiceField):
    """A booking by its customer and days."""

    def label_from_instance(self, booking: Booking) -> str:
        """For whom it is, and which days."""
        if booking.first_on == booking.last_on:
            said = gettext("{customer} on {day}")
            return said.format(customer=booking.what, day=long_day(booking.first_on))
        first, last = first_and_last(booking.first_on, booking.last_on)
        return gettext("{customer} from {first} to {last}").format(
            customer=booking.what, first=first, last=last
        )


class PassageForm(Form):
    """Hours, fuel and a note: the same both ways."""

    shows = HoursField(label=_("Hours on the meter"), required=False)
    fuel = forms.TypedChoiceField(
        label=_("Fuel"),
        required=False,
        choices=FUEL,
        coerce=whole,
        empty_value=None,
        initial="",
        widget=forms.RadioSelect,
    )
    note = forms.CharField(
        label=_("Note"), required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 2})
    )


class OutForm(PassageForm):
    """A unit goes out. `anyway_reason` is asked only of those who may send it before its service."""

    hirer = forms.CharField(
        label=_("Who takes it"), max_length=120, error_messages={"required": _("Say who takes it.")}
    )
    due_back_on = forms.DateField(
        label=_("Due back"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=_("Give the day, and we also check what falls due before then."),
    )
    hours_a_day = PlainDecimalField(
        label=_("Expected hours a day"),
        required=False,
        unit="h",
        max_value=24,
        help_text=_("If the hirer knows. Leave it empty to use the booking, or its usual hours."),
        error_messages={"max_value": _("A day has 24 hours.")},
    )
    booking = BookingChoice(
        None,
        label=_("Booking"),
        required=False,
        empty_label=_("No booking"),
        help_text=_("We find a booking in the hirer's own name without this."),
    )
    anyway_reason = reason_field(_("Send it out anyway, because"))

    field_order = ["hirer", "booking", "due_back_on", "hours_a_day", "shows", "fuel", "note"]

    def __init__(self, *args: Any, ask_why: bool, bookings: QuerySet[Booking], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows_choice(self, "booking").queryset = bookings
        if not bookings:
            del self.fields["booking"]
        if not ask_why:
            del self.fields["anyway_reason"]

    def show_why_as_needed(self) -> None:
        """Mark the reason as needed on the page; whether it is, the gate decides when the form comes."""
        if "anyway_reason" in self.fields:
            self.fields["anyway_reason"].required = True


class InForm(PassageForm):
    """A unit is back."""
