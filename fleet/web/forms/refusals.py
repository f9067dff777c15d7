"""What a process refuses is said beside the entry it belongs to."""

from django import forms

from fleet.core.errors import FleetError


def show(error: FleetError, form: forms.Form) -> None:
    """Put the refusal at its field, or above the form where it has none there."""
    form.add_error(error.field if error.field in form.fields else None, error.sentence)
