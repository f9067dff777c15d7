"""People and their own account as they are filled in."""

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.models import Member, User
from fleet.web.forms.house import Form
from fleet.web.forms.sign_in import KnowsOldPassword

ROLES = [
    (Member.Role.OWNER, _("Owner: everything, people and settings too")),
    (Member.Role.MANAGER, _("Manager: machines, orders, gate, readings, report")),
    (Member.Role.TECHNICIAN, _("Technician: enters hours and does the work")),
    (Member.Role.COUNTER, _("Hire desk: gate and readings")),
]
RULES = _("At least 10 characters, and not a common one. Three random words work well.")


class PersonForm(Form):
    """A new person."""

    name = forms.CharField(
        label=_("Name"), max_length=150, error_messages={"required": _("Give their name.")}
    )
    email = forms.EmailField(
        label=_("Mail address"),
        max_length=150,
        help_text=_("They sign in with it and get their mail there."),
        error_messages={"required": _("Give their mail address.")},
    )
    role = forms.ChoiceField(
        label=_("Role"),
        choices=ROLES,
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose a role.")},
    )


class MemberForm(Form):
    """What may be changed about a member."""

    role = forms.ChoiceField(
        label=_("Role"),
        choices=ROLES,
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose a role.")},
    )
    active = forms.BooleanField(label=_("May sign in"), required=False)
    mail = forms.BooleanField(label=_("Gets the daily mail"), required=False)


class MailForm(Form):
    """Whether I get a digest by mail."""

    mail = forms.BooleanField(label=_("Send me one mail a day with what is new for me"), required=False)


class PasswordForm(KnowsOldPassword):
    """Another password, for one who knows the old one."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["old_password"].label = _("Current password")
        self.fields["old_password"].widget.attrs.pop("autofocus", None)
        self.fields["new_password1"].label, self.fields["new_password1"].help_text = (
            _("New password"),
            RULES,
        )
        self.fields["new_password2"].label = _("New password again")
        self.fields["new_password2"].help_text = ""


class KnownForm(Form):
    """The password somebody signs in with already."""

    password = forms.CharField(
        label=_("The password you sign in with here"),
        error_messages={"required": _("Type your password.")},
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class WelcomeForm(Form):
    """A first, or a new, password."""

    password = forms.CharField(
        label=_("New password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=RULES,
        error_messages={"required": _("Type a password.")},
    )
    again = forms.CharField(
        label=_("New password again"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        error_messages={"required": _("Type the password again.")},
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
                self.add_error("again", _("The two passwords differ. Type both again."))
        return self.cleaned_data
