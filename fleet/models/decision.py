"""What was decided about readings, by whom and when: a list that only grows."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone

from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.meter import Reading


class DecisionQuerySet(models.QuerySet):
    def standing(self) -> "DecisionQuerySet":
        """A person's decisions that haven't been taken back, the latest first."""
        return (
            self.exclude(kind__in=[Decision.Kind.TAKEN_BACK, Decision.Kind.BY_ITSELF])
            .filter(taken_back_by=None)
            .order_by("-pk")
        )


class Decision(OrganisationOwned):
    """One change of a reading's state after it came in. Never changed or deleted: taking back adds one."""

    class Kind(models.TextChoices):
        COUNTED = "counted", "Counted as it stands"
        STRUCK = "struck", "Struck"
        CORRECTED = "corrected", "Corrected"
        SWAPPED = "swapped", "Swapped with another machine's"
        METER = "meter", "Counted on the new meter"
        TAKEN_BACK = "taken back", "Taken back"
        BY_ITSELF = "by itself", "Judged anew"

    NOT_TAKEN_BACK = (Kind.TAKEN_BACK, Kind.BY_ITSELF, Kind.METER)

    reading = models.ForeignKey(Reading, on_delete=models.CASCADE, related_name="decisions")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    was = models.CharField(max_length=8, choices=Reading.State.choices)
    became = models.CharField(max_length=8, choices=Reading.State.choices)
    by = models.ForeignKey("fleet.Member", on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    at = models.DateTimeField(default=timezone.now, editable=False)
    note = models.TextField(blank=True)
    made = models.ForeignKey(
        Reading,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="+",
        help_text="The reading that was put in its place.",
    )
    along_with = models.ForeignKey(
        "self",
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="+",
        help_text="The other half of a swap; both are taken back together.",
    )
    takes_back = models.OneToOneField(
        "self", on_delete=models.CASCADE, null=True, blank=True, related_name="taken_back_by"
    )

    objects: ClassVar = OrganisationManager.from_queryset(DecisionQuerySet)()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="taken back") | Q(takes_back=None), name="only_taking_back_takes_back"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reading}: {self.get_kind_display()}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Keep a new one. Raises TypeError for one that is kept already."""
        if not self._state.adding:
            raise TypeError("a decision is never changed; take it back by another")
        super().save(*args, **kwargs)
