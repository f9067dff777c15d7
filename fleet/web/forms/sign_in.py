"""Passwords as they are typed: to sign in, and to show that one is still oneself."""

from typing import Any

from django import forms
from django.contrib.admin.forms import AdminAuthenticationForm, AdminPasswordChangeForm
from django.contrib.auth import authenticate
from django.contrib.auth import forms as auth_forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm, UsernameField
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from fleet.sign_in import waiting
from fleet.web.forms.house import Form

NO_MATCH = _("That name and password don't match.")
NO_OPERATOR = _("That name and password don't match. Only operators sign in here.")


class SaysHowLong(Form, AuthenticationForm):
    """A sign-in by name or mail address; it says how long to wait where a password wasn't even looked at."""

    username = UsernameField(
        label=_("Name or mail address"),
        widget=forms.TextInput(attrs={"autofocus": True}),
        error_messages={"required": _("Give your name or mail address.")},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].error_messages["required"] = _("Type your password.")

    def get_invalid_login_error(self) -> ValidationError:
        """The refusal, as it is shown above the form."""
        refused = waiting.why_refused(self.request) if self.request else ""
        return ValidationError(refused, code="wait") if refused else super().get_invalid_login_error()


class SignInForm(SaysHowLong):
    """Name and password."""

    error_messages = {**AuthenticationForm.error_messages, "invalid_login": NO_MATCH}


class OperatorSignInForm(SaysHowLong, AdminAuthenticationForm):
    """Name and password of an operator."""

    error_messages = {
        **AdminAuthenticationForm.error_messages,
        "invalid_login": NO_OPERATOR,
    }


class PersonPasswordForm(auth_forms.AdminPasswordChangeForm):
    """Another person's password. The framework's own warning is put together in English, whoever reads it."""

    usable_password_help_text = format_lazy(  # type: ignore[assignment]  # the stubs know no lazy words here
        '{whether}<ul id="id_unusable_warning" class="messagelist"><li class="warning">{lost}</li></ul>',
        whether=_("Whether they can sign in with a password."),
        lost=_("If not, their password will be lost."),
    )


class KnowsOldPassword(Form, PasswordChangeForm):
    """Another password for one who types the old one; a wrong old one counts as a guess."""

    error_messages = {
        **PasswordChangeForm.error_messages,
        "password_incorrect": _("That isn't your current password. Type it again."),
        "password_mismatch": _("The two passwords differ. Type both again."),
    }

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request
        for name, sentence in (
            ("old_password", _("Type your current password.")),
            ("new_password1", _("Type a new password.")),
            ("new_password2", _("Type the new password again.")),
        ):
            self.fields[name].error_messages["required"] = sentence

    def clean_old_password(self) -> str:
        """Refuse a wrong old password, and any where too many were wrong."""
        given: str = self.cleaned_data["old_password"]
        if authenticate(self.request, username=self.user.get_username(), password=given) is None:
            raise ValidationError(
                waiting.why_refused(self.request) or self.error_messages["password_incorrect"],
                code="password_incorrect",
            )
        return given


class OperatorPasswordForm(KnowsOldPassword, AdminPasswordChangeForm):
    """An operator's own password."""
