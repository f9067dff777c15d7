"""Attachments, and the machines they hang on; an attachment's hours accrue while it is mounted."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.fields import HoursField
from fleet.models.machine import Machine, MachineQuerySet


class AttachmentQuerySet(MachineQuerySet):
    def mounted_on(self, machine: Machine) -> "AttachmentQuerySet":
        """The attachments that hang on this machine now."""
        return self.filter(pk__in=Mounting.objects.open().filter(machine=machine).values("attachment"))


class Attachment(Machine):
    """A rotary cutter, an auger, a loader: a machine without a meter, which runs with the one it hangs on.

    Its `hours` are `hours_before` plus what its hosts ran while it was mounted;
    fleet.readings.attachment_hours keeps them so.
    """

    hours_before = HoursField(
        _("hours before"), default=0, help_text=_("Hours it had run when it came here.")
    )

    objects: ClassVar = OrganisationManager.from_queryset(AttachmentQuerySet)()  # type: ignore[assignment]

    class Meta:
        verbose_name = _("attachment")
        verbose_name_plural = _("attachments")
        constraints = [
            models.CheckConstraint(condition=Q(hours_before__gte=0), name="attachment_hours_not_negative"),
        ]


class MountingQuerySet(models.QuerySet):
    def open(self) -> "MountingQuerySet":
        """Mountings that haven't ended."""
        return self.filter(removed_at=None)


class Mounting(OrganisationOwned):
    """A period during which an attachment hung on one machine.

    `hours_on` and `hours_off` lie on the straight line between the host's readings, and move when these do.
    """

    attachment = models.ForeignKey(
        Attachment, verbose_name=_("attachment"), on_delete=models.CASCADE, related_name="mountings"
    )
    machine = models.ForeignKey(
        Machine, verbose_name=_("machine"), on_delete=models.PROTECT, related_name="carried"
    )
    mounted_at = models.DateTimeField(_("mounted at"))
    hours_on = HoursField(
        _("hours when mounted"), help_text=_("The machine's total hours when it was mounted.")
    )
    removed_at = models.DateTimeField(_("removed at"), null=True, blank=True)
    hours_off = HoursField(_("hours when removed"), null=True, blank=True)

    objects: ClassVar = OrganisationManager.from_queryset(MountingQuerySet)()

    class Meta:
        verbose_name = _("mounting")
        verbose_name_plural = _("mountings")
        ordering = ["-mounted_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["attachment"], condition=Q(removed_at=None), name="mounted_on_one_machine"
            ),
            models.CheckConstraint(
                condition=Q(removed_at=None, hours_off=None)
                | Q(removed_at__gte=F("mounted_at"), hours_off__gte=F("hours_on")),
                name="mounting_ends_after_it_began",
            ),
        ]

    def __str__(self) -> str:
        return _("{attachment} on {machine}").format(attachment=self.attachment, machine=self.machine)
