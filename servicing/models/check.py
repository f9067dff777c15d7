"""What is measured, looked at or tested in a task, and what passes."""

from typing import Any

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.models.base import OrganisationOwned
from servicing.models.task import Task

LIMIT: dict[str, Any] = {"max_digits": 14, "decimal_places": 6}
OWN_WORDS = {
    "passes": _("passes"),
    "fails": _("fails"),
    "pass": pgettext_lazy("verdict of a check", "pass"),
    "fail": pgettext_lazy("verdict of a check", "fail"),
    "yes": _("yes"),
    "no": _("no"),
    "ok": _("ok"),
}
"""Words of a check that are ours and not the maker's; kept in English, read in the reader's language."""


def word_said(word: str) -> str:
    """Return a word of a check as the reader reads it; the maker's own stay as the programme has them."""
    return str(OWN_WORDS.get(word, word))


class CheckRule(models.Model):
    """What a check asks and allows. Limits are inclusive, in `unit`."""

    class Kind(models.TextChoices):
        MEASURE = "measure", pgettext_lazy("kind of check", "Measure")
        TORQUE = "torque", pgettext_lazy("kind of check", "Torque")
        SIGHT = "sight", pgettext_lazy("kind of check", "Look")
        FUNCTION = "function", pgettext_lazy("kind of check", "Function test")
        LEVEL = "level", pgettext_lazy("kind of check", "Fluid level")

    NUMERIC = (Kind.MEASURE, Kind.TORQUE)

    kind = models.CharField(_("kind"), max_length=8, choices=Kind.choices)
    label = models.CharField(_("label"), max_length=160)
    safety = models.BooleanField(_("safety"), default=False, help_text=_("A failure tags the machine out."))
    unit = models.CharField(_("unit"), max_length=12, blank=True)
    lower = models.DecimalField(_("lower limit"), null=True, blank=True, **LIMIT)
    upper = models.DecimalField(_("upper limit"), null=True, blank=True, **LIMIT)
    target = models.DecimalField(_("target"), null=True, blank=True, **LIMIT)
    choices = models.JSONField(
        _("choices"),
        default=list,
        blank=True,
        help_text=_("[{value, meaning, passes}] for what is looked at."),
    )

    class Meta:
        abstract = True

    @property
    def is_numeric(self) -> bool:
        """Whether a number is entered rather than a word chosen."""
        return self.kind in self.NUMERIC


class Check(CheckRule, OrganisationOwned):
    """A check of a task."""

    task = models.ForeignKey(Task, verbose_name=_("task"), on_delete=models.CASCADE, related_name="checks")
    code = models.SlugField(_("code"))
    position = models.PositiveSmallIntegerField(_("position"), default=0)
    steps = models.JSONField(
        _("steps"), default=list, blank=True, help_text=_("How a function test is made.")
    )
    expect = models.TextField(
        _("expected result"), blank=True, help_text=_("What must happen in a function test.")
    )
    socket = models.CharField(_("socket"), max_length=20, blank=True)
    pattern = models.CharField(_("pattern"), max_length=80, blank=True, help_text=_("Tightening pattern."))

    class Meta:
        verbose_name = _("check")
        verbose_name_plural = _("checks")
        ordering = ["position", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["task", "code"], name="check_code_once"),
            models.CheckConstraint(
                condition=Q(lower=None) | Q(upper=None) | Q(lower__lte=F("upper")),
                name="check_limits_in_order",
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=["measure", "torque"])
                | (~Q(unit="") & (Q(lower__isnull=False) | Q(upper__isnull=False))),
                name="measured_check_has_unit_and_limit",
            ),
        ]

    def __str__(self) -> str:
        return self.label
