"""What is asked when a machine is tagged out, and when it is given back to use."""

from typing import Any

from django import forms


class PlaceForm(forms.Form):
    """Why nobody may use it."""

    reason = forms.CharField(
        label="What is wrong",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Everybody who asks for the machine reads this.",
    )


class ClearForm(forms.Form):
    """Why it is safe to use again."""

    reason = forms.CharField(
        label="Why it is safe to use again",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What was done, and how you know. Kept under your name.",
    )

    def __init__(self, *args: Any, re_test: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if re_test:
            self.fields["reason"].label = "The passing re-test, and what was done"
            self.fields[
                "reason"
            ].help_text = (
                "Write the value or result of the check made again, and who made it. Kept under your name."
            )
