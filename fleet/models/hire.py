"""A machine's time with a hirer."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.fields import HoursField
from fleet.models.machine import Machine
from fleet.models.overruling import Overruled


@dataclass(frozen=True)
class HireNote:
    """A note of a hire. way: "out", "back", or "" where that isn't known; nor are `by` ("") and `at` then."""

    way: str
    by: str
    at: datetime | None
    text: str


class HireQuerySet(models.QuerySet):
    def open(self) -> "HireQuerySet":
        """Hires whose unit is out."""
        return self.filter(back_at=None)

    def with_people(self) -> "HireQuerySet":
        """With those who sent it out and took it back, for showing."""
        return self.select_related("out_by__user", "back_by__user")


class Hire(Overruled, OrganisationOwned):
    """A unit went out, and came back or will. Fuel in per cent of a full tank."""

    machine = models.ForeignKey(
        Machine, verbose_name=_("machine"), on_delete=models.PROTECT, related_name="hires"
    )
    hirer = models.CharField(_("hirer"), max_length=120)
    booking = models.ForeignKey(
        "fleet.Booking",
        verbose_name=_("booking"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="hires",
        help_text=_("The booking that this going out fulfils."),
    )
    due_back_on = models.DateField(_("due back on"), null=True, blank=True)
    hours_a_day = models.DecimalField(
        _("hours a day"),
        max_digits=4,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(24)],
        help_text=_("What it is likely to run while it is out; null: nobody knows."),
    )

    out_at = models.DateTimeField(_("sent out at"))
    hours_out = HoursField(_("hours when sent out"))
    fuel_out = models.PositiveSmallIntegerField(
        _("fuel when sent out"), null=True, blank=True, validators=[MaxValueValidator(100)]
    )
    out_by = models.ForeignKey(
        "fleet.Member", verbose_name=_("sent out by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )

    back_at = models.DateTimeField(_("taken back at"), null=True, blank=True)
    hours_back = HoursField(_("hours when taken back"), null=True, blank=True)
    fuel_back = models.PositiveSmallIntegerField(
        _("fuel when taken back"), null=True, blank=True, validators=[MaxValueValidator(100)]
    )
    back_by = models.ForeignKey(
        "fleet.Member",
        verbose_name=_("taken back by"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
    )
    note = models.TextField(_("note"), blank=True, help_text=_("Written when it went out."))
    note_back = models.TextField(  # noqa: DJ001 (null: see `notes`)
        _("note when it came back"),
        null=True,
        blank=True,
        help_text=_("Written when it came back."),
    )

    objects: ClassVar = OrganisationManager.from_queryset(HireQuerySet)()

    class Meta:
        verbose_name = _("hire")
        verbose_name_plural = _("hires")
        ordering = ["-out_at"]
        constraints = [
            models.UniqueConstraint(fields=["machine"], condition=Q(back_at=None), name="out_on_one_hire"),
            models.CheckConstraint(
                condition=Q(back_at=None) | Q(back_at__gte=F("out_at")), name="back_after_out"
            ),
            models.CheckConstraint(
                condition=Q(hours_a_day=None) | Q(hours_a_day__gte=0, hours_a_day__lte=24),
                name="hire_hours_in_a_day",
            ),
        ]

    def __str__(self) -> str:
        return _("{machine} to {hirer}").format(machine=self.machine, hirer=self.hirer)

    @property
    def notes(self) -> list[HireNote]:
        """What was written about it, in the order in which it was.

        Before the two were kept apart, what was written at the return was added to `note`; nobody can tell
        any more which words are whose, so such a note says neither who nor when. It is known by its hire,
        which has ended and yet has null as `note_back`.
        """
        mixed = self.back_at is not None and self.note_back is None
        out = HireNote("", "", None, self.note) if mixed else self._written("out", self.note)
        return [each for each in (out, self._written("back", self.note_back or "")) if each.text]

    def _written(self, way: str, text: str) -> HireNote:
        by, at = (self.out_by, self.out_at) if way == "out" else (self.back_by, self.back_at)
        return HireNote(way, str(by or ""), at, text)
