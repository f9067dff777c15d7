"""Fields as people fill them in at the machine: hours, photos, and moments on the yard's clock."""

from datetime import datetime
from decimal import Decimal
from typing import Any, cast
from zoneinfo import ZoneInfo

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext_lazy as _

from fleet.core.errors import FleetError
from fleet.core.moment_reader import on_the_clocks, read_iso
from fleet.core.number_reader import NotANumber, TwoWays, read_typed
from fleet.core.photos import checked_photo
from fleet.usage.figures import marked


class PlainDecimalField(forms.DecimalField):
    """A number as people write it, with a point or a comma; see `fleet.core.number_reader`.

    A text field, because a number field of a browser drops the comma and keeps the figures.
    """

    default_error_messages = {"invalid": _("Give a number, like 7.5.")}

    def __init__(self, *, unit: str = "", **kwargs: Any) -> None:
        widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
        if unit:
            widget.attrs["data-unit"] = unit
        usual: dict[str, Any] = {"min_value": 0, "decimal_places": 2, "widget": widget}
        super().__init__(**usual | kwargs)

    def prepare_value(self, value: Any) -> Any:
        """Write a number as its reader does; what was typed stays as it was."""
        return marked(f"{value:f}") if isinstance(value, Decimal) else value

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]  # a decimal is no integer
        """Read the number; None when empty."""
        if isinstance(value, str) and value.strip():
            try:
                value = read_typed(value)
            except TwoWays as error:
                raise forms.ValidationError(error.sentence, code="invalid") from None
            except NotANumber:
                raise forms.ValidationError(self.error_messages["invalid"], code="invalid") from None
        return super().to_python(value)


class HoursField(PlainDecimalField):
    """Hours as a meter shows them, to a hundredth."""

    default_error_messages = {
        "invalid": _("Give the number as the meter shows it, like 1204.5."),
        "required": _("Give the hours on the meter."),
        "min_value": _("Give 0 h or more."),
        "max_decimal_places": _("Give two figures after the point at most."),
    }

    def __init__(self, **kwargs: Any) -> None:
        usual: dict[str, Any] = {"unit": "h", "max_digits": 9, "help_text": ""}
        super().__init__(**usual | kwargs)


class PhotoField(forms.FileField):
    """A picture from the camera or a file; what `checked_photo` refuses is said at the field."""

    widget = forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp", "capture": "environment"})

    def clean(self, data: Any, initial: Any = None) -> UploadedFile | None:
        """Return the checked photo, None without one."""
        photo = super().clean(data, initial)
        if not photo:
            return None
        try:
            return checked_photo(photo)
        except FleetError as error:
            raise forms.ValidationError(error.sentence) from None


class WallTimeField(forms.Field):
    """A day and time as the clock on the yard's wall shows it; `in_zone` makes a moment of it.

    A time that comes with an offset (a hidden field's) is a moment already.
    """

    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")

    def to_python(self, value: Any) -> datetime | None:
        """Return a datetime, naive unless it came with an offset; None when empty."""
        if value in self.empty_values or isinstance(value, datetime):
            return value or None
        wall = read_iso(value)
        if wall is None:
            raise forms.ValidationError(_("Give the day and the time, like 2026-05-03 14:30."))
        return wall


def in_zone(wall: datetime, zone: ZoneInfo) -> datetime:
    """Return the moment at which the clocks of that zone show `wall`, as `on_the_clocks` has it.

    Raises ValidationError for a time they leap over.
    """
    moment = wall if wall.tzinfo else on_the_clocks(wall, zone)
    if moment is None:
        raise forms.ValidationError(_("The clocks went forward over this time. Give another."))
    return moment


def day_field(**kwargs: Any) -> forms.DateField:
    """Return a field for a day."""
    return forms.DateField(widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **kwargs)


def choice(form: forms.BaseForm, name: str) -> forms.ChoiceField:
    """Return a form's field that offers words, to say which."""
    return cast(forms.ChoiceField, form.fields[name])


def rows_choice(form: forms.BaseForm, name: str) -> "forms.ModelChoiceField[Any]":
    """Return a form's field that offers rows, to say which."""
    return cast("forms.ModelChoiceField[Any]", form.fields[name])


def sent(form: forms.BaseForm) -> "MultiValueDict[str, Any]":
    """Return what a page sent to a form."""
    return cast("MultiValueDict[str, Any]", form.data)
