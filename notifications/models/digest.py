"""Which organisation's digests were written for which day."""

from datetime import date

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Organisation
from fleet.models.base import OrganisationOwned


class DigestRun(OrganisationOwned):
    """The digests of one organisation for one of its days; whoever makes the row writes them."""

    day = models.DateField(_("day"))
    made_at = models.DateTimeField(_("made at"), default=timezone.now)

    class Meta:
        verbose_name = _("digest run")
        verbose_name_plural = _("digest runs")
        constraints = [models.UniqueConstraint(fields=["organisation", "day"], name="digest_once_a_day")]

    def __str__(self) -> str:
        return f"{self.organisation} {self.day}"

    @classmethod
    def claim(cls, organisation: Organisation, day: date) -> bool:
        """Take the day's digests for the caller; False when someone else has them already."""
        _, mine = cls.objects.get_or_create(organisation=organisation, day=day)
        return mine
