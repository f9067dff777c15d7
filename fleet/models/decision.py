"""What was decided about readings, by whom and when: a list that only grows."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.meter import Reading


class DecisionQuerySet(models.QuerySet):
    def standing(self) -> "DecisionQuerySet":
        """A person's decisions that haven't been undone, the latest first."""
        return (
            self.exclude(kind__in=[Decision.Kind.UNDONE, Decision.Kind.BY_ITSELF])
            .filter(undone_by=None)
            .order_by("-pk")
        )


class Decision(OrganisationOwned):
    """One change of a reading's state after it came in. Never changed or deleted: undoing adds one."""

    class Kind(models.TextChoices):
        COUNTED = "counted", _("Counted as it is")
        DISCARDED = "discarded", _("Discarded")
        CORRECTED = "corrected", _("Corrected")
        SWAPPED = "swapped", _("Swapped with another machine's")
        METER = "meter", _("Counted on the new meter")
        UNDONE = "undone", _("Undone")
        BY_ITSELF = "by itself", _("Checked again")

    NEVER_UNDONE = (Kind.UNDONE, Kind.BY_ITSELF, Kind.METER)

    reading = models.ForeignKey(
        Reading, verbose_name=_("reading"), on_delete=models.CASCADE, related_name="decisions"
    )
    kind = models.CharField(_("kind"), max_length=10, choices=Kind.choices)
    was = models.CharField(_("state before"), max_length=10, choices=Reading.State.choices)
    became = models.CharField(_("state after"), max_length=10, choices=Reading.State.choices)
    by = models.ForeignKey(
        "fleet.Member",
        verbose_name=_("decided by"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
    )
    at = models.DateTimeField(_("decided at"), default=timezone.now, editable=False)
    note = models.TextField(_("note"), blank=True)
    made = models.ForeignKey(
        Reading,
        verbose_name=_("reading put in its place"),
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="+",
        help_text=_("The reading that was put in its place."),
    )
    along_with = models.ForeignKey(
        "self",
        verbose_name=_("together with"),
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="+",
        help_text=_("The other half of a swap; both are undone together."),
    )
    undoes = models.OneToOneField(
        "self",
        verbose_name=_("undoes"),
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="undone_by",
    )

    objects: ClassVar = OrganisationManager.from_queryset(DecisionQuerySet)()

    class Meta:
        verbose_name = _("decision")
        verbose_name_plural = _("decisions")
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="undone") | Q(undoes=None), name="only_an_undoing_undoes"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reading}: {self.get_kind_display()}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Keep a new one. Raises TypeError for one that is kept already."""
        if not self._state.adding:
            raise TypeError("a decision is never changed; undo it by another")
        super().save(*args, **kwargs)
