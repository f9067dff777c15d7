"""Passwords as they are typed: to sign in, and to show that one is still oneself."""

from typing import Any

from django.contrib.admin.forms import AdminAuthenticationForm, AdminPasswordChangeForm
from django.contrib.auth import authenticate
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.core.exceptions import ValidationError
from django.http import HttpRequest

from fleet.sign_in import waiting


class SaysHowLong(AuthenticationForm):
    """A sign-in that says how long to wait, where a password wasn't even looked at."""

    def get_invalid_login_error(self) -> ValidationError:
        """The refusal, as it is shown above the form."""
        refused = waiting.why_refused(self.request) if self.request else ""
        return ValidationError(refused, code="wait") if refused else super().get_invalid_login_error()


class SignInForm(SaysHowLong):
    """Name and password."""

    error_messages = {
        **AuthenticationForm.error_messages,
        "invalid_login": "That name and password don't match. Capitals count.",
    }


class OperatorSignInForm(SaysHowLong, AdminAuthenticationForm):
    """Name and password of an operator."""


class KnowsOldPassword(PasswordChangeForm):
    """Another password for one who types the old one; a wrong old one counts as a guess."""

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request

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
