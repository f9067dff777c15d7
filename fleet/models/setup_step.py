"""What a new organisation is led through on its first day, and which of it isn't needed there."""

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.models.base import OrganisationOwned
from fleet.models.organisation import Member


class SetupStep(OrganisationOwned):
    """A step that somebody waved off: it isn't needed here. To take it up again is to delete the row."""

    class Code(models.TextChoices):
        YARDS = "yards", _("Yards")
        MACHINES = "machines", _("Machines")
        PROGRAMS = "programs", _("Service programmes")
        LAST_DONE = "last-done", _("Last done")
        HOURS = "hours", pgettext_lazy("readings of hour meters", "Hours")
        PEOPLE = "people", _("Sign-ins")
        FIGURES = "figures", _("Times and prices")

    step = models.CharField(pgettext_lazy("of getting started", "step"), max_length=10, choices=Code.choices)
    waved_off_by = models.ForeignKey(
        Member, verbose_name=_("waved off by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    waved_off_at = models.DateTimeField(_("waved off at"), default=timezone.now)

    class Meta:
        verbose_name = _("step not needed")
        verbose_name_plural = _("steps not needed")
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "step"], name="setup_step_waved_off_once"),
            models.CheckConstraint(
                condition=Q(
                    step__in=["yards", "machines", "programs", "last-done", "hours", "people", "figures"]
                ),
                name="setup_step_known",
            ),
        ]

    def __str__(self) -> str:
        return str(self.get_step_display())
