"""Tokens for the API: of a person, or of a box in the field."""

import hashlib
import secrets
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Q
from django.utils import timezone

from fleet.models.base import OrganisationOwned, scoped

if TYPE_CHECKING:
    from fleet.models.organisation import Member

PREFIX_LENGTH = 10
USE_NOTED_EVERY = timedelta(minutes=1)


def digest(secret: str) -> str:
    """Return the hash under which a token is kept. A token is 256 random bits, so one SHA-256 is enough."""
    return hashlib.sha256(secret.encode()).hexdigest()


class ApiTokenQuerySet(models.QuerySet):
    def live(self) -> "ApiTokenQuerySet":
        """Tokens that haven't been revoked and whose person, if any, is still active."""
        return self.filter(revoked_at=None).filter(
            Q(member=None) | Q(member__active=True, member__user__is_active=True)
        )

    def used(self, secret: str, *, at: datetime) -> "ApiToken | None":
        """Return the live token with that secret, noting (to the minute) that it was used; else None."""
        token = (
            self.live()
            .select_related("organisation", "member__organisation", "member__user")
            .filter(digest=digest(secret))
            .first()
        )
        if token and (token.last_used_at is None or at - token.last_used_at > USE_NOTED_EVERY):
            self.filter(pk=token.pk).update(last_used_at=at)
            token.last_used_at = at
        return token


class ApiToken(OrganisationOwned):
    """A secret that stands for a person or a device. Only its hash is kept."""

    name = models.CharField(max_length=80)
    member = models.ForeignKey(
        "fleet.Member",
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="tokens",
        help_text="Whose rights it has; a device's token has none and may only send readings.",
    )
    prefix = models.CharField(
        max_length=PREFIX_LENGTH, help_text="Its first characters, to tell tokens apart."
    )
    digest = models.CharField(max_length=64, unique=True)
    created_by = models.ForeignKey("fleet.Member", on_delete=models.SET_NULL, null=True, related_name="+")
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    last_used_at = models.DateTimeField(null=True, editable=False)
    revoked_at = models.DateTimeField(null=True, editable=False)

    objects = scoped(ApiTokenQuerySet)

    class Meta:
        ordering = ["-created_at"]

    def __str__(self) -> str:
        return self.name

    @property
    def is_device(self) -> bool:
        """Whether it stands for a box in the field rather than a person."""
        return self.member_id is None

    @classmethod
    def issue(
        cls, *, name: str, created_by: "Member", member: "Member | None" = None
    ) -> tuple["ApiToken", str]:
        """Make a token; return it with the secret, which is shown once and can't be had again."""
        secret = "hm_" + secrets.token_urlsafe(32)
        token = cls.objects.create(
            organisation=created_by.organisation,
            name=name,
            member=member,
            created_by=created_by,
            prefix=secret[:PREFIX_LENGTH],
            digest=digest(secret),
        )
        return token, secret

    def revoke(self) -> None:
        """End the token at once; revoking twice changes nothing."""
        type(self).objects.filter(pk=self.pk, revoked_at=None).update(revoked_at=timezone.now())
