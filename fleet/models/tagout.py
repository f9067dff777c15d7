"""Tag-outs: a machine nobody may use until a named person clears it."""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone

from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.machine import Machine


class TagOutQuerySet(models.QuerySet):
    def open(self) -> "TagOutQuerySet":
        """Tag-outs that nobody has cleared."""
        return self.filter(cleared_at=None)


class TagOut(OrganisationOwned):
    """Who took a machine out of use and why; who cleared it and why."""

    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="tag_outs")
    reason = models.TextField()
    placed_by = models.ForeignKey("fleet.Member", on_delete=models.SET_NULL, null=True, related_name="+")
    placed_at = models.DateTimeField(default=timezone.now)
    cleared_by = models.ForeignKey(
        "fleet.Member", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    cleared_at = models.DateTimeField(null=True, blank=True)
    clear_reason = models.TextField(blank=True)

    objects: ClassVar = OrganisationManager.from_queryset(TagOutQuerySet)()

    class Meta:
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
