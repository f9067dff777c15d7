"""What is known of days to come: holidays of the yards, and machines booked for a hire or a job."""

from datetime import date
from typing import Any, ClassVar

from django.contrib.postgres.constraints import ExclusionConstraint
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Func, Q, Value
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.machine import Machine
from fleet.models.overruling import Overruled


class HolidayQuerySet(models.QuerySet):
    def from_day(self, day: date) -> "HolidayQuerySet":
        """Holidays that end on this day or later."""
        return self.filter(last_on__gte=day)


class Holiday(OrganisationOwned):
    """Days on which nothing runs, at one yard or (no yard) at all of them. They may overlap."""

    name = models.CharField(_("name"), max_length=80)
    yard = models.ForeignKey(
        "fleet.Yard",
        verbose_name=_("yard"),
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="holidays",
    )
    first_on = models.DateField(_("first day"))
    last_on = models.DateField(_("last day"))

    objects: ClassVar = OrganisationManager.from_queryset(HolidayQuerySet)()

    class Meta:
        verbose_name = _("holiday")
        verbose_name_plural = _("holidays")
        ordering = ["first_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_on__gte=F("first_on")), name="holiday_ends_after_it_began"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ExclusionOnPostgres(ExclusionConstraint):
    """An exclusion constraint where the database knows them; elsewhere the process alone keeps the rule."""

    def constraint_sql(self, model: Any, schema_editor: Any) -> Any:
        """The constraint as part of its table; none outside PostgreSQL."""
        return super().constraint_sql(model, schema_editor) if _knows_it(schema_editor) else None

    def create_sql(self, model: Any, schema_editor: Any) -> Any:
        """The statement that adds it; none outside PostgreSQL."""
        return super().create_sql(model, schema_editor) if _knows_it(schema_editor) else None

    def remove_sql(self, model: Any, schema_editor: Any) -> Any:
        """The statement that drops it; none outside PostgreSQL."""
        return super().remove_sql(model, schema_editor) if _knows_it(schema_editor) else None

    def validate(self, *args: Any, **kwargs: Any) -> None:
        """Leave it to the process, which names what is in the way."""


def _knows_it(schema_editor: Any) -> bool:
    return bool(schema_editor.connection.vendor == "postgresql")


class BookingQuerySet(models.QuerySet):
    def standing(self) -> "BookingQuerySet":
        """Bookings that nobody has withdrawn, and whose hire hasn't come back."""
        return self.filter(withdrawn_at=None, fulfilled_at=None)

    def from_day(self, day: date) -> "BookingQuerySet":
        """Bookings that end on this day or later."""
        return self.filter(last_on__gte=day)

    def meeting(self, first: date, last: date) -> "BookingQuerySet":
        """Bookings with a day between these two, both included."""
        return self.filter(first_on__lte=last, last_on__gte=first)


class Booking(Overruled, OrganisationOwned):
    """A machine is spoken for from one day to another, both included, to run so many hours a day.

    Of one machine no two standing bookings share a day.
    """

    class Kind(models.TextChoices):
        HIRE = "hire", _("Hire")
        JOB = "job", _("Job of our own")

    machine = models.ForeignKey(
        Machine, verbose_name=_("machine"), on_delete=models.CASCADE, related_name="bookings"
    )
    kind = models.CharField(_("kind"), max_length=4, choices=Kind.choices)
    what = models.CharField(_("hirer or job"), max_length=120, help_text=_("The hirer, or the job."))
    first_on = models.DateField(_("first day"))
    last_on = models.DateField(_("last day"))
    hours_a_day = models.DecimalField(
        _("hours a day"),
        max_digits=4,
        decimal_places=2,
        validators=[MinValueValidator(0), MaxValueValidator(24)],
    )
    made_by = models.ForeignKey(
        "fleet.Member", verbose_name=_("made by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    made_at = models.DateTimeField(_("made at"), default=timezone.now, editable=False)
    withdrawn_at = models.DateTimeField(_("cancelled at"), null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        "fleet.Member",
        verbose_name=_("cancelled by"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
    )
    fulfilled_at = models.DateTimeField(
        _("fulfilled at"),
        null=True,
        blank=True,
        help_text=_("When the unit came back from the hire that was this booking's."),
    )

    objects: ClassVar = OrganisationManager.from_queryset(BookingQuerySet)()

    class Meta:
        verbose_name = _("booking")
        verbose_name_plural = _("bookings")
        ordering = ["first_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_on__gte=F("first_on")), name="booking_ends_after_it_began"
            ),
            models.CheckConstraint(
                condition=Q(hours_a_day__gte=0, hours_a_day__lte=24), name="booking_hours_in_a_day"
            ),
            models.CheckConstraint(condition=Q(kind__in=["hire", "job"]), name="booking_kind_known"),
            ExclusionOnPostgres(  # a machine as a range of one number: needs no extension
                name="booked_once_at_a_time",
                expressions=[
                    (Func(F("machine"), F("machine"), Value("[]"), function="int8range"), "&&"),
                    (Func(F("first_on"), F("last_on"), Value("[]"), function="daterange"), "&&"),
                ],
                condition=Q(withdrawn_at=None, fulfilled_at=None),
            ),
        ]
        indexes = [
            models.Index(
                fields=["organisation", "last_on"], condition=Q(withdrawn_at=None), name="booking_standing"
            ),
        ]

    def __str__(self) -> str:
        return _("{machine} for {what}").format(machine=self.machine, what=self.what)
