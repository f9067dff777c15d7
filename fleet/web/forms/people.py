"""People and their own account as they are filled in."""

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from fleet.models import Member, User
from fleet.web.forms.sign_in import KnowsOldPassword

ROLES = [
    (Member.Role.OWNER, "Owner: everything, people and settings too"),
    (Member.Role.MANAGER, "Manager: machines, orders, gate, readings, ledger"),
    (Member.Role.TECHNICIAN, "Technician: enters hours and carries out orders"),
    (Member.Role.COUNTER, "Counter: gate and readings"),
]
RULES = "At least 10 characters, and not one that others use too. Three odd words do well."


class PersonForm(forms.Form):
    """A new person."""

    name = forms.CharField(label="Name", max_length=150)
    email = forms.EmailField(
        label="Mail address", max_length=150, help_text="They sign in with it, and digests go there."
    )
    role = forms.ChoiceField(label="Role", choices=ROLES, widget=forms.RadioSelect)


class MemberForm(forms.Form):
    """What may be changed about a member."""

    role = forms.ChoiceField(label="Role", choices=ROLES, widget=forms.RadioSelect)
    active = forms.BooleanField(label="May sign in", required=False)
    mail = forms.BooleanField(label="Gets a digest by mail", required=False)


class MailForm(forms.Form):
    """Whether I get a digest by mail."""

    mail = forms.BooleanField(label="Send me one mail a day with what is new for me", required=False)


class PasswordForm(KnowsOldPassword):
    """Another password, for one who knows the old one."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["old_password"].label = "Your password until now"
        self.fields["old_password"].widget.attrs.pop("autofocus", None)
        self.fields["new_password1"].label, self.fields["new_password1"].help_text = (
            "Your new password",
            RULES,
        )
        self.fields["new_password2"].label, self.fields["new_password2"].help_text = "The same once more", ""


class KnownForm(forms.Form):
    """The password somebody signs in with already."""

    password = forms.CharField(
        label="The password you sign in here with",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class WelcomeForm(forms.Form):
    """A first, or a new, password."""

    password = forms.CharField(
        label="Your new password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=RULES,
    )
    again = forms.CharField(
        label="The same once more",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user

    def clean(self) -> dict[str, Any]:
        """Hold the password against the rules, and the two against each other."""
        password, again = self.cleaned_data.get("password"), self.cleaned_data.get("again")
        if password:
            try:
                validate_password(password, self.user)
            except ValidationError as error:
                self.add_error("password", error)
            if again and again != password:
                self.add_error("again", "The two differ; type both again.")
        return self.cleaned_data
