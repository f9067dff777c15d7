"""What a new password must keep to, besides Django's own rules."""

from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from fleet.sign_in.hashing import LONGEST_PASSWORD
from fleet.usage.figures import how_many


class MaximumLengthValidator:
    """A password longer than what is hashed at sign-in could never be used."""

    def validate(self, password: str, user: Any = None) -> None:
        """Raise ValidationError for one that is too long."""
        if len(password) > LONGEST_PASSWORD:
            said = _("This password is too long: use {most} characters at most.")
            raise ValidationError(said.format(most=how_many(LONGEST_PASSWORD)), code="password_too_long")

    def get_help_text(self) -> str:
        """Return the rule in words."""
        return _("At most {most} characters.").format(most=how_many(LONGEST_PASSWORD))
