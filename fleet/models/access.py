"""Tokens for the API: of a person, or of a box in the field."""

import hashlib
import secrets
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models.base import OrganisationManager, OrganisationOwned

if TYPE_CHECKING:
    from fleet.models.organisation import Member

PREFIX_LENGTH = 10
USE_NOTED_EVERY = timedelta(minutes=1)
LASTS = timedelta(days=365)  # a person's token, where nothing shorter was chosen


def digest(secret: str) -> str:
    """Return the hash under which a token is kept. A token is 256 random bits, so one SHA-256 is enough."""
    return hashlib.sha256(secret.encode()).hexdigest()


def new_secret() -> str:
    """Return a secret nobody can guess."""
    return "hm_" + secrets.token_urlsafe(32)


class ApiTokenQuerySet(models.QuerySet):
    def standing(self) -> "ApiTokenQuerySet":
        """Tokens that nobody has ended and whose person, if any, is still active; some may have expired."""
        return self.filter(revoked_at=None).filter(
            Q(member=None) | Q(member__active=True, member__user__is_active=True)
        )

    def live(self, at: datetime | None = None) -> "ApiTokenQuerySet":
        """Tokens that open the door at that moment (now when left out)."""
        return self.standing().filter(Q(expires_at=None) | Q(expires_at__gt=at or timezone.now()))

    def expired(self, secret: str, *, at: datetime) -> "ApiToken | None":
        """Return the token with that secret that opened the door until its day came; else None."""
        return self.standing().filter(digest=digest(secret), expires_at__lte=at).first()

    def used(self, secret: str, *, at: datetime) -> "ApiToken | None":
        """Return the live token with that secret, noting (to the minute) that it was used; else None.

        After a rotation the secret before it is good as well, until the hour that was stated then.
        """
        given = digest(secret)
        token = (
            self.live(at)
            .select_related("organisation", "member__organisation", "member__user")
            .filter(Q(digest=given) | Q(old_digest=given, old_until__gt=at))
            .first()
        )
        if token is None:
            return None
        noted = "last_used_at" if token.digest == given else "old_used_at"
        before = getattr(token, noted)
        if before is None or at - before > USE_NOTED_EVERY:
            self.filter(pk=token.pk).update(**{noted: at})
            setattr(token, noted, at)
        return token


class ApiToken(OrganisationOwned):
    """A secret that stands for a person or a device. Only its hash is kept.

    A rotation gives it a new secret. It stays the same sender, so what it sent before is still known as sent.
    """

    name = models.CharField(_("name"), max_length=80)
    member = models.ForeignKey(
        "fleet.Member",
        verbose_name=_("member"),
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="tokens",
        help_text=_("Whose rights it has; a device's token has none and may only send readings."),
    )
    limited = models.BooleanField(
        _("limited"), default=False, help_text=_("A device that may send for its machines and yards alone.")
    )
    machines = models.ManyToManyField(
        "fleet.Machine", verbose_name=_("machines"), blank=True, related_name="+"
    )
    yards = models.ManyToManyField("fleet.Yard", verbose_name=_("yards"), blank=True, related_name="+")
    prefix = models.CharField(
        _("first characters"),
        max_length=PREFIX_LENGTH,
        help_text=_("Its first characters, to tell tokens apart."),
    )
    digest = models.CharField(_("hash"), max_length=64, unique=True)
    created_by = models.ForeignKey(
        "fleet.Member", verbose_name=_("created by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    created_at = models.DateTimeField(_("created at"), default=timezone.now, editable=False)
    last_used_at = models.DateTimeField(_("last used at"), null=True, editable=False)
    expires_at = models.DateTimeField(
        _("expires at"),
        null=True,
        editable=False,
        help_text=_("A person's token ends then; a device's lasts until it is ended."),
    )
    revoked_at = models.DateTimeField(_("revoked at"), null=True, editable=False)

    rotated_at = models.DateTimeField(_("new secret made at"), null=True, editable=False)
    old_prefix = models.CharField(
        _("first characters of the old secret"), max_length=PREFIX_LENGTH, blank=True, editable=False
    )
    old_digest = models.CharField(  # noqa: DJ001 (null: it was never rotated; only given ones are unique)
        _("hash of the old secret"),
        max_length=64,
        null=True,
        unique=True,
        editable=False,
    )
    old_until = models.DateTimeField(_("old secret works until"), null=True, editable=False)
    old_used_at = models.DateTimeField(_("old secret last used at"), null=True, editable=False)

    objects: ClassVar = OrganisationManager.from_queryset(ApiTokenQuerySet)()

    class Meta:
        verbose_name = _("API token")
        verbose_name_plural = _("API tokens")
        ordering = ["-created_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(limited=False) | Q(member=None), name="only_a_devices_token_is_limited"
            ),
            models.CheckConstraint(
                condition=Q(member=None) | Q(expires_at__isnull=False), name="a_persons_token_expires"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_device(self) -> bool:
        """Whether it stands for a box in the field rather than a person."""
        return self.member_id is None

    @property
    def sender(self) -> str:
        """What it is called as a sender: client ids and idempotency keys are its own."""
        return f"token {self.pk}"

    @property
    def old_is_good(self) -> bool:
        """Whether the secret before the last rotation still opens the door."""
        until = self.old_until
        return until is not None and until > timezone.now() and not (self.revoked_at or self.has_expired)

    @property
    def has_expired(self) -> bool:
        """Whether its day has come."""
        return self.expires_at is not None and self.expires_at <= timezone.now()

    @property
    def days_left(self) -> int | None:
        """Whole days until it expires, 0 on the last one; None for one that doesn't."""
        return None if self.expires_at is None else max(0, (self.expires_at - timezone.now()).days)

    @classmethod
    def issue(
        cls,
        *,
        name: str,
        created_by: "Member",
        member: "Member | None" = None,
        limited: bool = False,
        lasts: timedelta = LASTS,
    ) -> tuple["ApiToken", str]:
        """Make a token; return it with the secret, which is shown once and can't be had again.

        lasts: how long, where it stands for a member.
        """
        secret = new_secret()
        token = cls.objects.create(
            organisation=created_by.organisation,
            name=name,
            member=member,
            limited=limited,
            created_by=created_by,
            prefix=secret[:PREFIX_LENGTH],
            digest=digest(secret),
            expires_at=timezone.now() + lasts if member else None,
        )
        return token, secret

    def revoke(self) -> None:
        """End the token at once; revoking twice changes nothing."""
        type(self).objects.filter(pk=self.pk, revoked_at=None).update(revoked_at=timezone.now())
