"""Answers kept for senders that ask the same again."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleet.models.base import OrganisationOwned


class KeptAnswer(OrganisationOwned):
    """What one request with an Idempotency-Key was answered; see fleet.readings.idempotency."""

    sender = models.CharField(
        _("sender"), max_length=80, help_text=_("The token or member that sent it; keys are its own.")
    )
    key = models.CharField(_("key"), max_length=255)
    fingerprint = models.CharField(_("fingerprint"), max_length=64, help_text=_("SHA-256 of what was sent."))
    body = models.BinaryField(_("answer"), help_text=_("The answer, as zlib packs it."))
    made_at = models.DateTimeField(_("made at"))
    expires_at = models.DateTimeField(_("expires at"))

    class Meta:
        verbose_name = _("kept answer")
        verbose_name_plural = _("kept answers")
        constraints = [
            models.UniqueConstraint(fields=["organisation", "sender", "key"], name="answer_key_once"),
        ]
        indexes = [models.Index(fields=["expires_at"], name="answer_expiry")]

    def __str__(self) -> str:
        return f"{self.sender}, {self.key}"
