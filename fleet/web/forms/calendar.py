"""Bookings and holidays as they are entered and changed."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.calendar.bookings import Facts, may_book
from fleet.calendar.commitments import Promise
from fleet.models import Booking, Holiday, Member, Yard
from fleet.web.forms.despite import DespiteForm
from fleet.web.forms.fields import PlainDecimalField, choice, day_field, rows_choice
from fleet.web.forms.house import Form


class BookingForm(DespiteForm):
    """A machine spoken for. Who may book hires only isn't asked for the kind."""

    why_label = _("Book it anyway, because")
    in_the_way: Sequence[Promise] = ()

    kind = forms.ChoiceField(
        label=_("Booked for"),
        error_messages={"required": _("Choose what it is booked for.")},
        choices=Booking.Kind.choices,
        initial=Booking.Kind.HIRE,
        widget=forms.RadioSelect,
    )
    what = forms.CharField(
        label=_("Who hires it, or what the job is"),
        max_length=120,
        error_messages={"required": _("Say who hires it, or what the job is.")},
    )
    first_on = day_field(label=_("First day"), error_messages={"required": _("Choose the first day.")})
    last_on = day_field(
        label=_("Last day"),
        help_text=_("For one day, the same as the first."),
        error_messages={"required": _("Choose the last day.")},
    )
    hours_a_day = PlainDecimalField(
        label=_("Expected hours a day"),
        unit="h",
        max_value=24,
        help_text=_("The average over all these days, Sundays included."),
        error_messages={
            "required": _("Give the hours a day you expect it to run."),
            "max_value": _("A day has 24 hours. Give fewer."),
        },
    )

    def __init__(self, *args: Any, member: Member, booking: Booking | None = None, **kwargs: Any) -> None:
        if booking is not None:
            kwargs["initial"] = {name: getattr(booking, name) for name in Facts.__dataclass_fields__}
        super().__init__(*args, **kwargs)
        kinds = [(kind, said) for kind, said in Booking.Kind.choices if may_book(member, kind)]
        choice(self, "kind").choices = kinds
        if len(kinds) == 1:
            self.fields["kind"].widget = forms.HiddenInput()
            self.fields["kind"].initial = kinds[0][0]
            self.fields["what"].label = _("Who hires it")
            self.fields["what"].error_messages["required"] = _("Say who hires it.")
        self.ask_why_if_sent()

    def facts(self) -> Facts:
        """Return what was entered of the booking itself."""
        return Facts(**{name: self.cleaned_data[name] for name in Facts.__dataclass_fields__})

    def reason(self) -> str:
        """Return why it is booked all the same; nothing where that wasn't asked."""
        return str(self.cleaned_data.get(self.WHY, ""))


class HolidayForm(Form):
    """Days on which nothing runs."""

    name = forms.CharField(
        label=_("Name"), max_length=80, error_messages={"required": _("Give the holiday a name.")}
    )
    first_on = day_field(label=_("First day"), error_messages={"required": _("Choose the first day.")})
    last_on = day_field(label=_("Last day"), required=False, help_text=_("Leave it empty for one day."))
    yard: "forms.ModelChoiceField[Yard]" = forms.ModelChoiceField(
        None, label=_("Yard"), required=False, empty_label=_("All yards")
    )

    def __init__(self, *args: Any, member: Member, holiday: Holiday | None = None, **kwargs: Any) -> None:
        if holiday is not None:
            kwargs["initial"] = {
                "name": holiday.name,
                "first_on": holiday.first_on,
                "last_on": holiday.last_on,
                "yard": holiday.yard_id,
            }
        super().__init__(*args, **kwargs)
        rows_choice(self, "yard").queryset = Yard.objects.filter(organisation_id=member.organisation_id)
