"""Hours as they are entered, and what is decided about those that are held."""

from datetime import date, datetime
from typing import Any
from uuid import uuid4

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Machine, Member, Reading
from fleet.readings import Submitted
from fleet.web.forms.fields import HoursField, WallTimeField, choice, day_field, in_zone, rows_choice, sent
from fleet.web.forms.house import Form


class MachineChoice(forms.ModelChoiceField):
    """A machine by its fleet number, with its type to be sure and the hours it had."""

    default_error_messages = {"required": _("Choose a machine.")}

    def label_from_instance(self, machine: Machine) -> str:
        """`T-07, Haldane HX 3`."""
        return f"{machine.tag}, {machine.type}"


def offer_metered(form: forms.BaseForm, member: Member) -> None:
    """Offer in a form's field `machine` those in service that have a meter and that the member sees."""
    machines = Machine.objects.visible_to(member).in_service().metered()
    rows_choice(form, "machine").queryset = machines.select_related("type", "yard__organisation")


class ReadingForm(Form):
    """One reading of one machine."""

    machine = MachineChoice(queryset=None, empty_label=_("Choose a machine"), label=_("Which machine"))
    shows = HoursField(label=_("What the meter shows"))
    taken_at = WallTimeField(
        label=_("When it was read"),
        required=False,
        help_text=_("Leave it empty if you have just read it. Otherwise give the day and time at the yard."),
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=2000)
    client_id = forms.CharField(widget=forms.HiddenInput, required=False, max_length=80)

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_metered(self, member)
        if not self.is_bound:
            self.initial.setdefault("client_id", uuid4().hex)
            first = "shows" if self.initial.get("machine") else "machine"
            self.fields[first].widget.attrs["autofocus"] = True

    def clean(self) -> dict[str, Any]:
        """Turn the yard's wall time into a moment."""
        machine, wall = self.cleaned_data.get("machine"), self.cleaned_data.get("taken_at")
        if machine and wall:
            try:
                self.cleaned_data["taken_at"] = in_zone(wall, machine.zoneinfo)
            except forms.ValidationError as error:
                self.add_error("taken_at", error)
        return self.cleaned_data

    def submitted(self) -> Submitted:
        """Return the row to hand in."""
        entered = self.cleaned_data
        return Submitted(
            machine=entered["machine"].pk,
            taken_at=entered["taken_at"] or timezone.now().replace(microsecond=0),
            shows=entered["shows"],
            client_id=entered["client_id"] or None,
            note=entered["note"],
        )

    def tells(self, reading: Reading) -> bool:
        """Whether this is what the form says, so that sending it twice is one reading."""
        entered = self.cleaned_data
        same_time = not entered["taken_at"] or entered["taken_at"] == reading.taken_at
        return same_time and (entered["machine"].pk, entered["shows"]) == (reading.machine_id, reading.shows)

    def renew(self) -> None:
        """Give the form a new client id, so that sending it again is another reading."""
        data = sent(self).copy()
        data["client_id"] = uuid4().hex
        self.data = data


class DecisionForm(Form):
    """What is true about a reading, held or counted; `confirmed` is there once it has to be."""

    decision = forms.ChoiceField(
        label=_("What is right?"),
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose what is right.")},
    )
    shows = HoursField(label=_("What the meter really showed, if not this"), required=False)
    taken_at = WallTimeField(
        label=_("When it was really read, if not then"),
        required=False,
        help_text=_("The time at the yard."),
    )
    note = forms.CharField(
        label=_("How you know"),
        required=False,
        max_length=2000,
        help_text=_("Kept with the reading. Needed if you discard it."),
    )
    confirmed = forms.BooleanField(label=_("Count it anyway"), required=False)

    def __init__(self, *args: Any, reading: Reading, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.reading = reading
        asked = (
            self.data.get("decision") == "count"
        )  # too late perhaps: the process says by whom it was decided
        held = [("count", _("It is right: count it"))] if asked or reading.state == Reading.State.HELD else []
        choice(self, "decision").choices = [
            ("correct", _("The meter showed another figure, or at another time")),
            *held,
            ("discard", _("It is wrong: discard it")),
        ]
        self.fields["confirmed"].widget = forms.HiddenInput()

    def ask(self, sentence: str) -> None:
        """Ask whether it is to be counted in spite of what the sentence says."""
        self.fields["confirmed"].widget = forms.CheckboxInput()
        self.add_error("confirmed", sentence)

    def clean(self) -> dict[str, Any]:
        """Ask for what the decision needs."""
        entered = self.cleaned_data
        if entered.get("decision") == "correct" and "shows" in entered and entered["shows"] is None:
            self.add_error("shows", _("Give what the meter really showed."))
        wall: datetime | None = entered.get("taken_at")
        if wall:
            try:
                entered["taken_at"] = in_zone(wall, self.reading.machine.zoneinfo)
            except forms.ValidationError as error:
                self.add_error("taken_at", error)
        return entered


class UntilForm(Form):
    """The day up to which readings are listed."""

    until = day_field(required=False, label=_("Up to"))

    def clean_until(self) -> date | None:
        """Refuse a day whose end no zone can tell."""
        until: date | None = self.cleaned_data["until"]
        if until and not 1900 <= until.year <= 9000:
            raise forms.ValidationError(_("Check the year."))
        return until
