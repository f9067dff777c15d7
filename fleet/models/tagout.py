"""Tag-outs: a machine nobody may use until a named person clears it."""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.machine import Machine


class TagOutQuerySet(models.QuerySet):
    def open(self) -> "TagOutQuerySet":
        """Tag-outs that nobody has cleared."""
        return self.filter(cleared_at=None)


class TagOut(OrganisationOwned):
    """Who took a machine out of use and why; who cleared it and why."""

    machine = models.ForeignKey(
        Machine, verbose_name=_("machine"), on_delete=models.CASCADE, related_name="tag_outs"
    )
    reason = models.TextField(_("reason"))
    placed_by = models.ForeignKey(
        "fleet.Member", verbose_name=_("placed by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    placed_at = models.DateTimeField(_("placed at"), default=timezone.now)
    cleared_by = models.ForeignKey(
        "fleet.Member",
        verbose_name=_("cleared by"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    cleared_at = models.DateTimeField(_("cleared at"), null=True, blank=True)
    clear_reason = models.TextField(_("reason for clearing it"), blank=True)

    objects: ClassVar = OrganisationManager.from_queryset(TagOutQuerySet)()

    class Meta:
        verbose_name = _("tag-out")
        verbose_name_plural = _("tag-outs")
        ordering = ["-placed_at"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="tag_out_says_why"),
            models.CheckConstraint(
                condition=Q(cleared_at=None, cleared_by=None, clear_reason="")
                | (Q(cleared_at__isnull=False, cleared_by__isnull=False) & ~Q(clear_reason="")),
                name="tag_out_cleared_by_a_named_person",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.machine}: {self.reason}"
