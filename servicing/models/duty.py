"""The projected due table: one task of one machine that will fall due."""

from datetime import date, timedelta
from typing import ClassVar

from django.db import models
from django.db.models import Count, Exists, F, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.models import Attachment, Machine, Organisation
from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.fields import HoursField
from servicing.models.check import Check
from servicing.models.task import Task
from servicing.planning.intervals import Mark


class DutyQuerySet(models.QuerySet):
    def live(self) -> "DutyQuerySet":
        """Duties that will fall due: of machines in service, not finished for good."""
        return self.filter(active=True, machine__retired_on=None)

    def on_stop_of(self, machine: Machine) -> "DutyQuerySet":
        """Duties that can be done while this machine is stopped: its own, and its attachments'."""
        return self.filter(Q(machine=machine) | Q(machine__in=Attachment.objects.mounted_on(machine)))

    def overdue(self, today: date) -> "DutyQuerySet":
        """Duties whose hour mark or date is reached, read from the hours themselves, not from a projection.

        Says of many what `Duty.is_overdue` says of one.
        """
        return self.live().filter(Q(mark_hours__lte=F("machine__hours")) | Q(mark_on__lte=today))

    def number_on_machine(self) -> Coalesce:
        """How many of these duties a machine has, to annotate machines with."""
        own = self.filter(machine=OuterRef("pk")).order_by().values("machine")
        return Coalesce(Subquery(own.annotate(number=Count("pk")).values("number")), 0)

    def to_inspect(self) -> "DutyQuerySet":
        """Live duties of which somebody said that nobody knows when they were last done."""
        return self.live().exclude(unknown_on=None)

    def ahead(self, today: date) -> "DutyQuerySet":
        """Live duties that aren't overdue."""
        return self.live().exclude(pk__in=self.overdue(today).values("pk"))

    def likely_within(self, days: int, today: date) -> "DutyQuerySet":
        """Duties not overdue whose likely day comes within so many days of today."""
        return self.ahead(today).filter(likely__lte=today + timedelta(days=days))

    def unassigned(self) -> "DutyQuerySet":
        """Duties that no open work order carries."""
        from servicing.models.line import Line

        return self.filter(~Exists(Line.objects.filter(duty=OuterRef("pk"), open=True)))

    def with_order(self) -> "DutyQuerySet":
        """Add `order_number` and `order_id` of the open work order that carries the duty, if any."""
        from servicing.models.line import Line

        line = Line.objects.filter(duty=OuterRef("pk"), open=True)
        return self.annotate(
            order_number=Subquery(line.values("order__number")[:1]),
            order_id=Subquery(line.values("order_id")[:1]),
        )

    def with_statement(self) -> "DutyQuerySet":
        """Add `is_stated`: what is known of the last work was said by a person, not recorded by an order;
        and `said_hours` and `said_on`, that statement's halves.
        """
        from servicing.models.last_done import LastDone
        from servicing.models.line import Line

        said = LastDone.objects.filter(duty=OuterRef("pk"), unknown=False).order_by("-said_at", "-pk")
        on_order = Line.objects.filter(duty=OuterRef("pk"), open=False, outcome__in=Line.MEETS_THE_MARK)
        return self.annotate(
            is_stated=Exists(said) & ~Exists(on_order),
            said_hours=Subquery(said.values("hours")[:1]),
            said_on=Subquery(said.values("on")[:1]),
        )

    def soonest_first(self) -> "DutyQuerySet":
        """In the order of their likely days, then of their hours; those without a likely day last."""
        return self.order_by(F("likely").asc(nulls_last=True), "mark_hours", "pk")

    def with_everything(self) -> "DutyQuerySet":
        """With machine, its yard and type, and task, for showing."""
        return self.select_related("machine__yard__organisation", "machine__type", "task__version")


class Duty(OrganisationOwned):
    """A task of a machine: its next mark (hours, date or both), and the day that is likely to be.

    `mark_hours` is the mark that counts. Where a drifting value asks for the work before the rule does, it is
    `forward_hours`, `forward_check` is what that value measures, and `rule_hours` keeps the rule's own.
    `early`, `likely`, `late` are the 10, 50 and 90 % quantiles of the day; null: not within three years.
    """

    # duty_likely and duty_once begin with these two; a night rewrites every index of a duty
    organisation = models.ForeignKey(
        Organisation,
        verbose_name=_("organisation"),
        on_delete=models.CASCADE,
        related_name="+",
        db_index=False,
    )
    machine = models.ForeignKey(
        Machine, verbose_name=_("machine"), on_delete=models.CASCADE, related_name="duties", db_index=False
    )
    task = models.ForeignKey(Task, verbose_name=_("task"), on_delete=models.PROTECT, related_name="duties")
    active = models.BooleanField(
        _("active"), default=True, help_text=_("False once a once-only task is done or no longer applies.")
    )

    mark_hours = HoursField(_("due hours"), null=True, blank=True)
    mark_on = models.DateField(_("due date"), null=True, blank=True)
    last_hours = HoursField(
        _("hours when last done"), null=True, blank=True, help_text=_("Machine hours when it was last done.")
    )
    last_on = models.DateField(_("last done on"), null=True, blank=True)
    met_hours = HoursField(
        _("due hours met"), null=True, blank=True, help_text=_("The due hours that the last work met.")
    )
    met_on = models.DateField(
        _("due date met"), null=True, blank=True, help_text=_("The due date that the last work met.")
    )
    unknown_on = models.DateField(
        _("said to be unknown on"),
        null=True,
        blank=True,
        help_text=_("The day on which somebody said that nobody knows when it was last done."),
    )
    forward_hours = HoursField(
        _("brought forward to (hours)"),
        null=True,
        blank=True,
        help_text=_("Earlier due hours, because a value drifts."),
    )
    rule_hours = HoursField(
        _("due hours by the rule"),
        null=True,
        blank=True,
        help_text=_("While a drifting value brings it forward."),
    )
    forward_check = models.ForeignKey(
        Check,
        verbose_name=_("check that brings it forward"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        db_index=False,
    )
    forward_reason = models.TextField(_("why it is brought forward"), blank=True)
    deferred_until = models.DateField(_("deferred until"), null=True, blank=True)
    deferred_reason = models.TextField(_("why it is deferred"), blank=True)

    early = models.DateField(pgettext_lazy("day of a forecast", "early"), null=True, editable=False)
    likely = models.DateField(pgettext_lazy("day of a forecast", "likely"), null=True, editable=False)
    late = models.DateField(pgettext_lazy("day of a forecast", "late"), null=True, editable=False)
    projected_at = models.DateTimeField(_("forecast made at"), null=True, editable=False)

    order_number: int | None  # these two where `with_order` added them
    order_id: int | None

    objects: ClassVar = OrganisationManager.from_queryset(DutyQuerySet)()

    class Meta:
        verbose_name = _("task due")
        verbose_name_plural = _("tasks due")
        ordering = ["likely", "mark_hours", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["machine", "task"], name="duty_once"),
            models.CheckConstraint(
                condition=Q(active=False) | Q(mark_hours__isnull=False) | Q(mark_on__isnull=False),
                name="live_duty_has_a_mark",
            ),
            models.CheckConstraint(
                condition=Q(unknown_on=None) | Q(last_on=None, last_hours=None),
                name="unknown_or_last_done",
            ),
            models.CheckConstraint(
                condition=(Q(early=None) | Q(likely=None) | Q(early__lte=F("likely")))
                & (Q(likely=None) | Q(late=None) | Q(likely__lte=F("late"))),
                name="duty_days_in_order",
            ),
        ]
        indexes = [
            models.Index(fields=["organisation", "likely"], condition=Q(active=True), name="duty_likely"),
            models.Index(
                fields=["forward_check"],
                condition=Q(forward_check__isnull=False),
                name="duty_forward_check",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.machine}: {self.task}"

    @property
    def mark(self) -> Mark:
        """Where it falls due."""
        return Mark(self.mark_hours, self.mark_on)

    @property
    def invented(self) -> bool:
        """Whether its figures are invented; duties are to come with their task's version."""
        return self.task.version.invented

    def is_overdue(self, today: date) -> bool:
        """Whether the machine's hours or the date have reached the mark."""
        return self.active and self.mark.is_reached(self.machine.hours, today)

    def is_deferred(self, today: date) -> bool:
        """Whether somebody put it off until a day that hasn't come."""
        return self.deferred_until is not None and self.deferred_until > today
