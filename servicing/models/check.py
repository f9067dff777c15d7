"""What is measured, looked at or tested in a task, and what passes."""

from typing import Any

from django.db import models
from django.db.models import F, Q

from fleet.models.base import OrganisationOwned
from servicing.models.task import Task

LIMIT: dict[str, Any] = {"max_digits": 14, "decimal_places": 6}


class CheckRule(models.Model):
    """What a check asks and allows. Limits are inclusive, in `unit`."""

    class Kind(models.TextChoices):
        MEASURE = "measure", "Measure"
        TORQUE = "torque", "Torque"
        SIGHT = "sight", "Look"
        FUNCTION = "function", "Function test"
        LEVEL = "level", "Fluid level"

    NUMERIC = (Kind.MEASURE, Kind.TORQUE)

    kind = models.CharField(max_length=8, choices=Kind.choices)
    label = models.CharField(max_length=160)
    safety = models.BooleanField(default=False, help_text="A failure tags the machine out.")
    unit = models.CharField(max_length=12, blank=True)
    lower = models.DecimalField(null=True, blank=True, **LIMIT)
    upper = models.DecimalField(null=True, blank=True, **LIMIT)
    target = models.DecimalField(null=True, blank=True, **LIMIT)
    choices = models.JSONField(
        default=list, blank=True, help_text="[{value, meaning, passes}] for what is looked at."
    )

    class Meta:
        abstract = True

    @property
    def is_numeric(self) -> bool:
        """Whether a number is entered rather than a word chosen."""
        return self.kind in self.NUMERIC


class Check(CheckRule, OrganisationOwned):
    """A check of a task."""

    task = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="checks")
    code = models.SlugField()
    position = models.PositiveSmallIntegerField(default=0)
    steps = models.JSONField(default=list, blank=True, help_text="How a function test is made.")
    expect = models.TextField(blank=True, help_text="What must happen in a function test.")
    socket = models.CharField(max_length=20, blank=True)
    pattern = models.CharField(max_length=80, blank=True, help_text="Tightening pattern.")

    class Meta:
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
