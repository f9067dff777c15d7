"""The lines of a work order, and the values found and left."""

from decimal import Decimal

from django.db import models
from django.db.models import Q
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.core.wording import exact
from fleet.models import Machine, Member
from fleet.models.base import OrganisationOwned
from fleet.models.fields import HoursField
from servicing.models.check import LIMIT, Check, CheckRule, word_said
from servicing.models.duty import Duty
from servicing.models.task import Task
from servicing.models.workorder import WorkOrder


class Line(OrganisationOwned):
    """One task or fault of an order, with the mark it was to meet and what came of it."""

    class Outcome(models.TextChoices):
        DONE = "done", pgettext_lazy("outcome", "Done")
        ADJUSTED = "adjusted", pgettext_lazy("outcome", "Adjusted")
        DEFERRED = "deferred", pgettext_lazy("outcome", "Deferred")
        REFERRED = "referred", pgettext_lazy("outcome", "Referred")
        NOT_FITTED = "not fitted", pgettext_lazy("outcome", "Not fitted")

    MEETS_THE_MARK = (Outcome.DONE, Outcome.ADJUSTED)

    order = models.ForeignKey(
        WorkOrder, verbose_name=_("order"), on_delete=models.CASCADE, related_name="lines"
    )
    position = models.PositiveSmallIntegerField(_("position"), default=0)
    title = models.CharField(_("title"), max_length=160)
    duty = models.ForeignKey(
        Duty,
        verbose_name=_("task due"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="lines",
    )
    task = models.ForeignKey(
        Task, verbose_name=_("task"), on_delete=models.PROTECT, null=True, blank=True, related_name="lines"
    )
    open = models.BooleanField(
        pgettext_lazy("state", "open"), default=True, help_text=_("While its order is open.")
    )

    mark_hours = HoursField(
        _("due hours"), null=True, blank=True, help_text=_("Due at these hours when the order was made.")
    )
    mark_on = models.DateField(_("due date"), null=True, blank=True)
    late_allowance_hours = HoursField(_("late allowance in hours"), default=0)
    outcome = models.CharField(_("outcome"), max_length=10, choices=Outcome.choices, blank=True)
    reason = models.TextField(
        _("reason"), blank=True, help_text=_("Why it is deferred, or what the dealer should look at.")
    )
    deferred_until = models.DateField(_("deferred until"), null=True, blank=True)
    done_hours = HoursField(_("hours when done"), null=True, blank=True)
    done_on = models.DateField(_("done on"), null=True, blank=True)
    note = models.TextField(_("note"), blank=True)
    recorded_by = models.ForeignKey(
        Member,
        verbose_name=_("recorded by"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
    )
    recorded_at = models.DateTimeField(
        _("recorded at"), null=True, blank=True, help_text=_("When the outcome was entered.")
    )
    duty_before = models.JSONField(
        _("task due before"),
        null=True,
        editable=False,
        help_text=_("The task due as it was before this line took effect on it."),
    )

    class Meta:
        verbose_name = pgettext_lazy("of an order", "line")
        verbose_name_plural = pgettext_lazy("of an order", "lines")
        ordering = ["position", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["duty"], condition=Q(open=True), name="duty_on_one_open_order"),
            models.CheckConstraint(
                condition=~Q(outcome="deferred") | (~Q(reason="") & Q(deferred_until__isnull=False)),
                name="deferred_line_says_why_and_until_when",
            ),
            models.CheckConstraint(
                condition=~Q(outcome="referred") | ~Q(reason=""), name="referred_line_says_what"
            ),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def machine(self) -> Machine:
        """What it is work on: the order's machine, or an attachment that hangs on it."""
        if self.duty and self.duty.machine_id != self.order.machine_id:
            return self.duty.machine
        return self.order.machine


WORKED_ON = Coalesce("line__duty__machine", "line__order__machine")
"""The machine or attachment a result was found on, as its line's `machine` tells it."""


class CheckValues(CheckRule, OrganisationOwned):
    """A check's values as found and as left, beside the limits that held then.

    A number is kept exactly as typed, in the unit it was typed in; a look or a test keeps the chosen word.
    """

    VALUES = ("found_value", "found_unit", "found_word", "left_value", "left_unit", "left_word")

    found_value = models.DecimalField(_("value as found"), null=True, blank=True, **LIMIT)
    found_unit = models.CharField(_("unit as found"), max_length=12, blank=True)
    found_word = models.CharField(_("word as found"), max_length=80, blank=True)
    found_passes = models.BooleanField(_("passes as found"), null=True)
    left_value = models.DecimalField(_("value as left"), null=True, blank=True, **LIMIT)
    left_unit = models.CharField(_("unit as left"), max_length=12, blank=True)
    left_word = models.CharField(_("word as left"), max_length=80, blank=True)
    left_passes = models.BooleanField(_("passes as left"), null=True)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return f"{self.label}: {self.as_found}"

    @property
    def found(self) -> tuple[object, ...]:
        """What was entered as found."""
        return (self.found_value, self.found_unit, self.found_word)

    @property
    def values(self) -> tuple[object, ...]:
        """What was entered, whoever entered it."""
        return tuple(getattr(self, name) for name in self.VALUES)

    @property
    def as_found(self) -> str:
        """What was found, as a person reads it."""
        return self._said(self.found_value, self.found_unit, self.found_word)

    @property
    def as_left(self) -> str:
        """What was left, as a person reads it; empty where nothing had to be changed."""
        return self._said(self.left_value, self.left_unit, self.left_word)

    @property
    def passes(self) -> bool | None:
        """The verdict that stands: as left where there is one, else as found."""
        return self.found_passes if self.left_passes is None else self.left_passes

    def kept(self, moment: str) -> str:
        """What was entered as "found" or "left", in no language: to be kept and compared."""
        value, unit, word = (getattr(self, f"{moment}_{name}") for name in ("value", "unit", "word"))
        return word or (f"{value.normalize():f} {unit}".strip() if value is not None else "")

    @staticmethod
    def _said(value: Decimal | None, unit: str, word: str) -> str:
        return word_said(word) or (f"{exact(value)} {unit}".strip() if value is not None else "")


class CheckResult(CheckValues):
    """What the order's record says of a check. Kept for ever."""

    line = models.ForeignKey(
        Line,
        verbose_name=pgettext_lazy("of an order", "line"),
        on_delete=models.CASCADE,
        related_name="results",
    )
    check_made = models.ForeignKey(
        Check, verbose_name=_("check"), on_delete=models.PROTECT, related_name="results"
    )
    recorded_by = models.ForeignKey(
        Member, verbose_name=_("recorded by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    recorded_at = models.DateTimeField(_("recorded at"), default=timezone.now)

    class Meta:
        verbose_name = _("check result")
        verbose_name_plural = _("check results")
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["line", "check_made"], name="check_result_once"),
        ]
