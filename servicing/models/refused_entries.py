"""Entries that were sent for an order and not accepted, so that whoever plans the work knows of them."""

from typing import ClassVar

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.models import Member
from fleet.models.base import OrganisationManager, OrganisationOwned
from servicing.models.workorder import WorkOrder


class RefusedEntriesQuerySet(models.QuerySet):
    def waiting(self) -> "RefusedEntriesQuerySet":
        """Those of orders that are open still, with what is shown of them."""
        return self.filter(order__state__in=WorkOrder.OPEN_STATES).select_related(
            "order__machine__type", "member__user"
        )


class RefusedEntries(OrganisationOwned):
    """What one member sent last for an order and had refused. Gone once that member's entries are accepted.

    `problems`: [{"at", "why"}], both in words.
    """

    order = models.ForeignKey(
        WorkOrder, verbose_name=_("order"), on_delete=models.CASCADE, related_name="refused_entries"
    )
    member = models.ForeignKey(Member, verbose_name=_("member"), on_delete=models.CASCADE, related_name="+")
    since = models.DateTimeField(_("since"), default=timezone.now, help_text=_("When it was refused first."))
    problems = models.JSONField(_("problems"), default=list)

    objects: ClassVar = OrganisationManager.from_queryset(RefusedEntriesQuerySet)()

    class Meta:
        verbose_name = _("set of refused entries")
        verbose_name_plural = _("sets of refused entries")
        ordering = ["since", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["order", "member"], name="refused_entries_once"),
        ]

    def __str__(self) -> str:
        said = gettext("{order}: {number} not accepted from {member}")
        return said.format(order=self.order, number=len(self.problems), member=self.member)
