"""What each member was already told, so that a fact is told once until it changes."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleet.models import Member
from fleet.models.base import OrganisationOwned
from notifications.models.message import Message


class ToldFact(OrganisationOwned):
    """A fact (its key) in a certain state (its fingerprint) that a message told a member."""

    member = models.ForeignKey(
        Member, verbose_name=_("member"), on_delete=models.CASCADE, related_name="told"
    )
    key = models.CharField(_("key"), max_length=80)
    fingerprint = models.CharField(_("fingerprint"), max_length=80)
    message = models.ForeignKey(
        Message, verbose_name=_("message"), on_delete=models.CASCADE, related_name="facts"
    )

    class Meta:
        verbose_name = _("told fact")
        verbose_name_plural = _("told facts")
        constraints = [
            models.UniqueConstraint(fields=["member", "key", "fingerprint"], name="told_once"),
        ]

    def __str__(self) -> str:
        return self.key
