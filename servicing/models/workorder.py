"""Work orders: a job on one machine, from planning to the record of what was done."""

from typing import TYPE_CHECKING, ClassVar

from django.db import models
from django.db.models import Exists, F, OuterRef, Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from fleet.models import Machine, Member
from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.fields import HoursField
from fleet.models.overruling import Overruled
from servicing.models.technician import Technician

if TYPE_CHECKING:
    from datetime import datetime


class WorkOrderQuerySet(models.QuerySet):
    def open(self) -> "WorkOrderQuerySet":
        """Orders that are planned, started or on hold."""
        return self.filter(state__in=WorkOrder.OPEN_STATES)

    def closed_between(self, start: "datetime", end: "datetime") -> "WorkOrderQuerySet":
        """Orders closed at or after `start` and before `end`."""
        return self.filter(state=WorkOrder.State.CLOSED, closed_at__gte=start, closed_at__lt=end)

    def for_technician(self, member: Member) -> "WorkOrderQuerySet":
        """Orders assigned to this member."""
        return self.filter(technician__member=member)

    def with_refused(self) -> "WorkOrderQuerySet":
        """With the entries that weren't accepted, for lists; one query more."""
        return self.prefetch_related("refused_entries")

    def with_everything(self) -> "WorkOrderQuerySet":
        """With machine, yard, type and technician, for showing."""
        wide = self.select_related("machine__yard__organisation", "machine__type", "technician__member__user")
        return wide.with_invented()

    def with_invented(self) -> "WorkOrderQuerySet":
        """Add `invented`: whether a line's task comes from a program whose figures are invented."""
        own = self.model._base_manager.filter(pk=OuterRef("pk"), lines__task__version__invented=True)
        return self.annotate(invented=Exists(own))


class WorkOrder(Overruled, OrganisationOwned):
    """A job. `revision` rises with each change, so that a stale page is noticed, nothing overwritten."""

    class State(models.TextChoices):
        PLANNED = "planned", pgettext_lazy("state of an order", "Planned")
        STARTED = "started", pgettext_lazy("state of an order", "Started")
        ON_HOLD = "on hold", pgettext_lazy("state of an order", "On hold")
        CLOSED = "closed", pgettext_lazy("state of an order", "Closed")
        CANCELLED = "cancelled", pgettext_lazy("state of an order", "Cancelled")

    OPEN_STATES = (State.PLANNED, State.STARTED, State.ON_HOLD)

    machine = models.ForeignKey(
        Machine, verbose_name=_("machine"), on_delete=models.PROTECT, related_name="orders"
    )
    number = models.PositiveIntegerField(_("number"))
    state = models.CharField(_("state"), max_length=10, choices=State.choices, default=State.PLANNED)
    revision = models.PositiveIntegerField(_("revision"), default=1)
    planned_for = models.DateField(_("planned for"), null=True, blank=True)
    technician = models.ForeignKey(
        Technician,
        verbose_name=_("technician"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="orders",
    )
    made_by = models.ForeignKey(
        Member, verbose_name=_("made by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    made_at = models.DateTimeField(_("made at"), default=timezone.now, editable=False)
    started_at = models.DateTimeField(_("started at"), null=True, blank=True)
    hold_reason = models.TextField(_("reason for the hold"), blank=True)
    closed_at = models.DateTimeField(_("closed at"), null=True, blank=True)
    closed_by = models.ForeignKey(
        Member, verbose_name=_("closed by"), on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    hours_at_close = HoursField(_("hours at close"), null=True, blank=True)
    cancelled_at = models.DateTimeField(_("cancelled at"), null=True, blank=True)
    cancel_reason = models.TextField(_("reason for cancelling"), blank=True)
    note = models.TextField(_("note"), blank=True)

    objects: ClassVar = OrganisationManager.from_queryset(WorkOrderQuerySet)()

    class Meta:
        verbose_name = _("work order")
        verbose_name_plural = _("work orders")
        ordering = ["planned_for", "number"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "number"], name="order_number_once"),
            models.CheckConstraint(
                condition=~Q(state="closed")
                | Q(closed_at__isnull=False, closed_by__isnull=False, hours_at_close__isnull=False),
                name="closed_order_says_who_when_and_hours",
            ),
            models.CheckConstraint(
                condition=Q(started_at=None) | Q(closed_at=None) | Q(closed_at__gte=F("started_at")),
                name="order_closes_after_it_started",
            ),
        ]
        indexes = [
            models.Index(
                fields=["organisation", "planned_for"],
                condition=Q(state__in=["planned", "started", "on hold"]),
                name="order_open",
            ),
            models.Index(
                fields=["organisation", "closed_at"], condition=Q(state="closed"), name="order_closed"
            ),
        ]

    def __str__(self) -> str:
        return gettext("Order {number}").format(number=self.number)

    def get_absolute_url(self) -> str:
        return reverse("order", args=[self.pk])

    @property
    def is_open(self) -> bool:
        """Whether work on it can go on."""
        return self.state in self.OPEN_STATES
