"""What somebody asks those to do who may: send a unit out, book it, clear its tag-out."""

from datetime import datetime, timedelta
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.core.wording import in_a_sentence
from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.machine import Machine

ANSWER_SHOWN_FOR = timedelta(days=3)


class AskQuerySet(models.QuerySet):
    def standing(self) -> "AskQuerySet":
        """Asks that nobody has dealt with."""
        return self.filter(dealt_at=None)

    def standing_or_answered_lately(self, now: datetime) -> "AskQuerySet":
        """Asks that stand, and those whose answer is still shown."""
        return self.filter(Q(dealt_at=None) | Q(dealt_at__gte=now - ANSWER_SHOWN_FOR))


class Ask(OrganisationOwned):
    """An ask about one machine; it stands until somebody has dealt with it: who, when and what."""

    class Matter(models.TextChoices):
        SEND_OUT = "send-out", _("Send it out")
        BOOK = "book", _("Book it")
        CLEAR = "clear", _("Clear its tag-out")

    machine = models.ForeignKey(
        Machine, verbose_name=_("machine"), on_delete=models.CASCADE, related_name="asks"
    )
    matter = models.CharField(_("matter"), max_length=8, choices=Matter.choices)
    whom = models.CharField(_("hirer"), max_length=120, blank=True, help_text=_("Who wants to hire it."))
    first_on = models.DateField(_("first day"), null=True, blank=True)
    last_on = models.DateField(_("last day"), null=True, blank=True)
    note = models.TextField(_("note"), blank=True)
    against = models.JSONField(
        _("what stood in the way"), default=list, help_text=_("What stood in the way, in sentences.")
    )
    asked_by = models.ForeignKey(
        "fleet.Member", verbose_name=_("asked by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    asked_at = models.DateTimeField(_("asked at"), default=timezone.now)
    dealt_by = models.ForeignKey(
        "fleet.Member",
        verbose_name=_("dealt with by"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
    )
    dealt_at = models.DateTimeField(_("dealt with at"), null=True, blank=True)
    outcome = models.TextField(
        _("outcome"), blank=True, help_text=_("What was done about it, or the answer.")
    )

    objects: ClassVar = OrganisationManager.from_queryset(AskQuerySet)()

    class Meta:
        verbose_name = _("ask")
        verbose_name_plural = _("asks")
        ordering = ["asked_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["machine", "matter"], condition=Q(dealt_at=None), name="asked_once_a_matter"
            ),
            models.CheckConstraint(
                condition=Q(dealt_at=None, outcome="") | (Q(dealt_at__isnull=False) & ~Q(outcome="")),
                name="ask_dealt_with_says_how",
            ),
            models.CheckConstraint(
                condition=Q(matter__in=["send-out", "book", "clear"]), name="ask_matter_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.machine}: {in_a_sentence(self.get_matter_display())}"

    def get_absolute_url(self) -> str:
        return reverse("ask", args=[self.pk])
