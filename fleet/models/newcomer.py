"""Somebody who was asked into an organisation and hasn't come in yet."""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.organisation import Member


class NewcomerQuerySet(models.QuerySet):
    def awaited(self) -> "NewcomerQuerySet":
        """Those who may still come in."""
        return self.filter(member=None, withdrawn_at=None)


class Newcomer(OrganisationOwned):
    """A name, an address and a role, as an owner wrote them.

    Whether that address signs in elsewhere is looked up only when its link is opened, by who has the mail:
    until then the organisation learns nothing of it.
    """

    name = models.CharField(_("name"), max_length=150)
    email = models.EmailField(_("mail address"), max_length=150)
    role = models.CharField(_("role"), max_length=10, choices=Member.Role.choices)
    asked_by = models.ForeignKey(
        Member, verbose_name=_("invited by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    asked_at = models.DateTimeField(
        _("invited at"),
        default=timezone.now,
        help_text=_("When the last link was asked for; one asked for before is void."),
    )
    member = models.OneToOneField(
        Member, verbose_name=_("member"), on_delete=models.CASCADE, null=True, related_name="+"
    )
    withdrawn_at = models.DateTimeField(_("withdrawn at"), null=True)

    objects: ClassVar = OrganisationManager.from_queryset(NewcomerQuerySet)()

    class Meta:
        verbose_name = _("newcomer")
        verbose_name_plural = _("newcomers")
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                "organisation",
                Lower("email"),
                condition=Q(member=None, withdrawn_at=None),
                name="newcomer_awaited_once",
            ),
            models.CheckConstraint(
                condition=Q(member=None) | Q(withdrawn_at=None), name="newcomer_came_in_or_was_withdrawn"
            ),
        ]

    def __str__(self) -> str:
        return self.name
