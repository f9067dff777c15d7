"""Projections kept with what came of them, and what was learned from that."""

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.models import Machine, Organisation
from fleet.models.base import OrganisationOwned
from fleet.models.fields import HoursField
from fleet.usage.figures import marked


class KeptProjection(OrganisationOwned):
    """What was said about an hour mark of a machine, and when it was reached.

    Quantiles in days from `made_at`, uncorrected; null: not within three years.
    """

    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="kept_projections")
    mark_hours = HoursField()
    made_at = models.DateTimeField()
    hours_then = HoursField()
    early = models.FloatField(null=True)
    likely = models.FloatField(null=True)
    late = models.FloatField(null=True)
    reached_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["machine", "mark_hours", "made_at"], name="projection_kept_once"),
            models.CheckConstraint(condition=Q(mark_hours__gt=F("hours_then")), name="kept_before_the_mark"),
        ]
        indexes = [
            models.Index(
                fields=["organisation", "machine"], condition=Q(reached_at=None), name="kept_still_open"
            ),
        ]

    def __str__(self) -> str:
        said = gettext("{machine} to {hours}, said {day}")
        hours = f"{marked(str(self.mark_hours))} h"
        return said.format(machine=self.machine, hours=hours, day=f"{self.made_at:%Y-%m-%d}")


class Calibration(OrganisationOwned):
    """The correction of an organisation's quantiles, learned from what came; in standard normal units."""

    organisation = models.OneToOneField(Organisation, on_delete=models.CASCADE, related_name="+")
    early = models.FloatField()
    likely = models.FloatField()
    late = models.FloatField()
    outcomes = models.PositiveIntegerField(help_text=_("Kept projections it was learned from."))
    learned_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"{self.organisation}: {marked(f'{self.early:.2f} {self.likely:.2f} {self.late:.2f}')}"
