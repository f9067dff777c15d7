"""Projections kept with what came of them, and what was learned from that."""

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from fleet.models import Machine, Organisation
from fleet.models.base import OrganisationOwned
from fleet.models.fields import HoursField
from fleet.usage.figures import marked


class KeptProjection(OrganisationOwned):
    """What was said about an hour mark of a machine, and when it was reached.

    Quantiles in days from `made_at`, uncorrected; null: not within three years.
    """

    machine = models.ForeignKey(
        Machine, verbose_name=_("machine"), on_delete=models.CASCADE, related_name="kept_projections"
    )
    mark_hours = HoursField(_("due hours"))
    made_at = models.DateTimeField(_("made at"))
    hours_then = HoursField(_("hours then"))
    early = models.FloatField(pgettext_lazy("day of a forecast", "early"), null=True)
    likely = models.FloatField(pgettext_lazy("day of a forecast", "likely"), null=True)
    late = models.FloatField(pgettext_lazy("day of a forecast", "late"), null=True)
    reached_at = models.DateTimeField(_("reached at"), null=True)

    class Meta:
        verbose_name = _("kept forecast")
        verbose_name_plural = _("kept forecasts")
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

    organisation = models.OneToOneField(
        Organisation, verbose_name=_("organisation"), on_delete=models.CASCADE, related_name="+"
    )
    early = models.FloatField(pgettext_lazy("day of a forecast", "early"))
    likely = models.FloatField(pgettext_lazy("day of a forecast", "likely"))
    late = models.FloatField(pgettext_lazy("day of a forecast", "late"))
    outcomes = models.PositiveIntegerField(
        _("outcomes"), help_text=_("Kept projections it was learned from.")
    )
    learned_at = models.DateTimeField(_("learned at"), default=timezone.now)

    class Meta:
        verbose_name = _("calibration")
        verbose_name_plural = _("calibrations")

    def __str__(self) -> str:
        return f"{self.organisation}: {marked(f'{self.early:.2f} {self.likely:.2f} {self.late:.2f}')}"
