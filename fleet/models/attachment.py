"""Attachments, and the machines they hang on; an attachment's hours accrue while it is mounted."""

from decimal import Decimal

from django.db import models
from django.db.models import Case, F, Q, Sum, When
from django.db.models.functions import Coalesce, Lower

from fleet.models.base import OrganisationOwned, scoped
from fleet.models.fields import HoursField
from fleet.models.machine import Machine, MachineType


class AttachmentQuerySet(models.QuerySet):
    def with_hours(self) -> "AttachmentQuerySet":
        """Add `hours`: before its first mounting here, plus its host's running while it was mounted."""
        ran = Case(
            When(mountings__removed_at=None, then=F("mountings__machine__hours") - F("mountings__hours_on")),
            default=F("mountings__hours_off") - F("mountings__hours_on"),
            output_field=HoursField(),
        )
        return self.annotate(
            hours=F("hours_before") + Coalesce(Sum(ran), Decimal(0), output_field=HoursField())
        )


class Attachment(OrganisationOwned):
    """A rotary cutter, an auger, a loader: serviced by hours it has no meter for."""

    type = models.ForeignKey(MachineType, on_delete=models.PROTECT, related_name="attachments")
    yard = models.ForeignKey("fleet.Yard", on_delete=models.PROTECT, related_name="attachments")
    tag = models.CharField(max_length=30)
    serial = models.CharField(max_length=60, blank=True)
    in_service_on = models.DateField()
    hours_before = HoursField(default=0, help_text="Hours it had run when it came here.")

    objects = scoped(AttachmentQuerySet)

    class Meta:
        ordering = ["tag"]
        constraints = [
            models.UniqueConstraint("organisation", Lower("tag"), name="attachment_tag_once"),
            models.CheckConstraint(condition=Q(hours_before__gte=0), name="attachment_hours_not_negative"),
        ]

    def __str__(self) -> str:
        return self.tag


class MountingQuerySet(models.QuerySet):
    def open(self) -> "MountingQuerySet":
        """Mountings that haven't ended."""
        return self.filter(removed_at=None)


class Mounting(OrganisationOwned):
    """A period during which an attachment hung on one machine."""

    attachment = models.ForeignKey(Attachment, on_delete=models.CASCADE, related_name="mountings")
    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="mountings")
    mounted_at = models.DateTimeField()
    hours_on = HoursField(help_text="The machine's total hours when it was mounted.")
    removed_at = models.DateTimeField(null=True, blank=True)
    hours_off = HoursField(null=True, blank=True)

    objects = scoped(MountingQuerySet)

    class Meta:
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
        return f"{self.attachment} on {self.machine}"
