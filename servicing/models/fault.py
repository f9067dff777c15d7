"""Faults found on machines."""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.models import Attachment, Machine, Member
from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.fields import PhotoPath
from servicing.models.line import Line


class FaultQuerySet(models.QuerySet):
    def open(self) -> "FaultQuerySet":
        """Faults not yet put right."""
        return self.filter(fixed_at=None)

    def on_stop_of(self, machine: Machine) -> "FaultQuerySet":
        """Faults that can be put right while this machine is stopped: its own, and its attachments'."""
        return self.filter(Q(machine=machine) | Q(machine__in=Attachment.objects.mounted_on(machine)))

    def grave(self) -> "FaultQuerySet":
        """Open faults that must be put right before the machine goes out again."""
        return self.open().filter(severity=Fault.Severity.STOPS)


class Fault(OrganisationOwned):
    """A fault: found at the gate, by a technician or by an operator."""

    class Severity(models.TextChoices):
        NOTE = "note", _("Can wait for the next service")
        SOON = "soon", _("Fix soon")
        STOPS = "stops", _("Must be fixed before it goes out")

    class FoundAt(models.TextChoices):
        GATE = "gate", pgettext_lazy("where a fault was found", "Gate")
        SHOP = "shop", pgettext_lazy("where a fault was found", "Service work")
        FIELD = "field", pgettext_lazy("where a fault was found", "In the field")

    machine = models.ForeignKey(
        Machine, verbose_name=_("machine"), on_delete=models.CASCADE, related_name="faults"
    )
    severity = models.CharField(_("severity"), max_length=5, choices=Severity.choices, default=Severity.SOON)
    text = models.TextField(_("description"))
    photo = models.ImageField(_("photo"), upload_to=PhotoPath("faults"), blank=True)
    found_at = models.CharField(
        _("where it was found"), max_length=5, choices=FoundAt.choices, default=FoundAt.FIELD
    )
    reported_by = models.ForeignKey(
        Member, verbose_name=_("reported by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    reported_at = models.DateTimeField(_("reported at"), default=timezone.now)
    line = models.ForeignKey(
        Line,
        verbose_name=pgettext_lazy("of an order", "line"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="faults",
    )
    fixed_at = models.DateTimeField(_("fixed at"), null=True, blank=True)

    objects: ClassVar = OrganisationManager.from_queryset(FaultQuerySet)()

    class Meta:
        verbose_name = _("fault")
        verbose_name_plural = _("faults")
        ordering = ["-reported_at"]
        constraints = [models.CheckConstraint(condition=~Q(text=""), name="fault_says_what")]

    def __str__(self) -> str:
        return self.text
