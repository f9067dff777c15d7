"""The outbox: each outgoing message is a row first and a mail afterwards."""

from datetime import datetime
from typing import ClassVar, cast
from urllib.parse import urlsplit
from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Member, Newcomer
from fleet.models.base import OrganisationManager, OrganisationOwned


def new_mail_id() -> str:
    """Return a Message-ID nobody else has (RFC 5322, 3.6.4), without its angle brackets."""
    host = urlsplit(settings.SITE_URL).hostname or ""
    if not host or not host.isascii() or ":" in host:
        host = "localhost"
    return f"{uuid4().hex}@{host[:200]}"


class MessageQuerySet(models.QuerySet):
    def due(self, at: datetime) -> "MessageQuerySet":
        """Queued messages whose moment to try has come, oldest first."""
        return self.filter(state=Message.State.QUEUED, next_try_at__lte=at).order_by("next_try_at", "pk")

    def undecided(self) -> "MessageQuerySet":
        """Messages that nothing but a person sends again."""
        return self.filter(state__in=Message.UNDECIDED)


class Message(OrganisationOwned):
    """A message to one member, or to somebody asked in.

    Queued, in flight, then sent, failed for good, or interrupted in flight.
    mail_id: its Message-ID, made once and the same on every try, so that whoever gets it twice can tell.
    """

    class State(models.TextChoices):
        QUEUED = "queued", _("Queued")
        IN_FLIGHT = "in flight", _("In flight")
        SENT = "sent", _("Sent")
        FAILED = "failed", _("Failed")
        INTERRUPTED = "interrupted", _("Interrupted")

    UNDECIDED = (State.FAILED, State.INTERRUPTED)

    member = models.ForeignKey(
        Member, verbose_name=_("member"), on_delete=models.CASCADE, null=True, related_name="messages"
    )
    newcomer = models.ForeignKey(
        Newcomer, verbose_name=_("newcomer"), on_delete=models.CASCADE, null=True, related_name="+"
    )
    link = models.BooleanField(
        _("contains a link"),
        default=False,
        help_text=_("A one-time link is put in when it is sent; it is kept nowhere."),
    )
    address = models.EmailField(_("address"))
    subject = models.CharField(_("subject"), max_length=200)
    body = models.TextField(_("text"))
    mail_id = models.CharField(_("mail id"), max_length=255, unique=True, editable=False, default=new_mail_id)
    state = models.CharField(_("state"), max_length=12, choices=State.choices, default=State.QUEUED)
    attempts = models.PositiveSmallIntegerField(_("attempts"), default=0)
    next_try_at = models.DateTimeField(_("next try at"), default=timezone.now)
    claimed_at = models.DateTimeField(_("taken up at"), null=True)
    made_at = models.DateTimeField(_("made at"), default=timezone.now)
    sent_at = models.DateTimeField(_("sent at"), null=True)
    error = models.TextField(_("error"), blank=True)

    objects: ClassVar = OrganisationManager.from_queryset(MessageQuerySet)()

    class Meta:
        verbose_name = _("message")
        verbose_name_plural = _("messages")
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(member=None, newcomer__isnull=False) | Q(member__isnull=False, newcomer=None),
                name="message_to_one_person",
            ),
            models.CheckConstraint(
                condition=~Q(state="sent") | Q(sent_at__isnull=False), name="sent_message_says_when"
            ),
        ]
        indexes = [
            models.Index(fields=["next_try_at"], condition=Q(state="queued"), name="message_due"),
        ]

    def __str__(self) -> str:
        return self.subject

    @property
    def person(self) -> Member | Newcomer:
        """Whom it is to."""
        return cast("Member | Newcomer", self.member or self.newcomer)

    @property
    def mailbox(self) -> str:
        """The mail address that the person has now."""
        person = self.person
        return person.user.email if isinstance(person, Member) else person.email
