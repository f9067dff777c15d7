"""What people say of when work was last done, before any order recorded it."""

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Member
from fleet.models.base import OrganisationOwned
from fleet.models.fields import HoursField
from servicing.models.duty import Duty


class LastDone(OrganisationOwned):
    """One statement about a task of a machine: its hours, its day, either alone, or that nobody knows.

    Statements are added, never changed; the latest of a duty holds until an order records work on it. What
    was not said stays empty here: the duty then has an estimate of it.
    """

    duty = models.ForeignKey(
        Duty, verbose_name=_("task due"), on_delete=models.CASCADE, related_name="statements"
    )
    hours = HoursField(_("hours when last done"), null=True, blank=True)
    on = models.DateField(_("last done on"), null=True, blank=True)
    unknown = models.BooleanField(_("not known"), default=False)
    said_by = models.ForeignKey(
        Member, verbose_name=_("said by"), on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    said_at = models.DateTimeField(_("said at"), default=timezone.now, editable=False)

    class Meta:
        verbose_name = _("last work stated")
        verbose_name_plural = _("last work stated")
        ordering = ["-said_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(unknown=True, hours=None, on=None)
                | (Q(unknown=False) & (Q(hours__isnull=False) | Q(on__isnull=False))),
                name="last_done_says_when_or_unknown",
            ),
            models.CheckConstraint(
                condition=Q(hours=None) | Q(hours__gte=0), name="last_done_hours_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return str(self.duty)
