"""The people who do the work, and the time they spent."""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleet.models import Member
from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.fields import MoneyField


class TechnicianQuerySet(models.QuerySet):
    def working(self) -> "TechnicianQuerySet":
        """Technicians who can be given work."""
        return self.filter(member__active=True, member__user__is_active=True)


class Technician(OrganisationOwned):
    """A member who does service work."""

    member = models.OneToOneField(
        Member, verbose_name=_("member"), on_delete=models.CASCADE, related_name="technician"
    )
    hourly_rate = MoneyField(_("hourly rate"), default=0)
    licensed = models.BooleanField(
        _("licensed"), default=False, help_text=_("May do tasks marked for licensed practice.")
    )

    objects: ClassVar = OrganisationManager.from_queryset(TechnicianQuerySet)()

    class Meta:
        verbose_name = _("technician")
        verbose_name_plural = _("technicians")
        ordering = ["member__user__first_name", "pk"]

    def __str__(self) -> str:
        return str(self.member)


class Labour(OrganisationOwned):
    """Minutes spent on an order, at the rate of that day."""

    order = models.ForeignKey(
        "servicing.WorkOrder", verbose_name=_("order"), on_delete=models.CASCADE, related_name="labour"
    )
    technician = models.ForeignKey(
        Technician, verbose_name=_("technician"), on_delete=models.PROTECT, related_name="labour"
    )
    minutes = models.PositiveIntegerField(_("minutes"))
    hourly_rate = MoneyField(_("hourly rate"))

    class Meta:
        verbose_name = _("labour entry")
        verbose_name_plural = _("labour entries")
        constraints = [models.CheckConstraint(condition=Q(minutes__gt=0), name="labour_takes_time")]

    def __str__(self) -> str:
        return f"{self.technician}: {self.minutes} min"
