"""Tokens as they are asked for."""

from typing import Any

from django import forms

from fleet.models import Member


class TokenForm(forms.Form):
    """A token to be made."""

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

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not member.rights.manage_fleet:
            del self.fields["stands_for"]

    @property
    def device(self) -> bool:
        """Whether a device's token was asked for."""
        return self.cleaned_data.get("stands_for") == "device"
