"""A task of a service program, and all that a technician needs to know about it."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.core.hazards import Hazard, Signal
from fleet.core.wording import exact, in_a_sentence
from fleet.models import Fitment, WorkingCondition
from fleet.models.base import OrganisationOwned
from fleet.models.fields import HoursField
from servicing.models.program import ProgramVersion


class Task(OrganisationOwned):
    """One row of the maker's table. Its code stays the same from version to version."""

    class Skill(models.TextChoices):
        OPERATOR = "operator", pgettext_lazy("who does a task", "Operator")
        TECHNICIAN = "technician", pgettext_lazy("who does a task", "Technician")
        LICENSED = "licensed", pgettext_lazy("who does a task", "Licensed shop or dealer")

    class Engine(models.TextChoices):
        ANY = "any", pgettext_lazy("engine", "Warm or cold")
        WARM = "warm", pgettext_lazy("engine", "Warm")
        COLD = "cold", pgettext_lazy("engine", "Cold")

    class Outside(models.TextChoices):
        ADJUST = "adjust", _("Adjust until it is in range")
        REFER = "refer", _("Refer to the dealer")
        TAG_OUT = "tag_out", _("Tag the machine out")

    version = models.ForeignKey(
        ProgramVersion, verbose_name=_("version"), on_delete=models.CASCADE, related_name="tasks"
    )
    code = models.SlugField(_("code"))
    position = models.PositiveSmallIntegerField(_("position"), default=0)
    title = models.CharField(_("title"), max_length=160)
    needs = models.ManyToManyField(
        Fitment,
        verbose_name=_("fitments needed"),
        blank=True,
        related_name="+",
        help_text=_("Fitments it is for."),
    )
    without = models.ManyToManyField(
        Fitment,
        verbose_name=_("fitments ruled out"),
        blank=True,
        related_name="+",
        help_text=_("Fitments that rule it out."),
    )

    skill = models.CharField(_("skill"), max_length=10, choices=Skill.choices, default=Skill.TECHNICIAN)
    minutes = models.PositiveSmallIntegerField(
        _("minutes"), default=0, help_text=_("Labour time in minutes.")
    )
    wait_minutes = models.PositiveSmallIntegerField(
        _("waiting minutes"), default=0, help_text=_("Waiting time in minutes.")
    )
    waits_after = models.PositiveSmallIntegerField(
        _("waits after step"), default=0, help_text=_("The step after which it waits; 0: the last one.")
    )
    engine = models.CharField(_("engine"), max_length=4, choices=Engine.choices, default=Engine.ANY)
    runs = models.BooleanField(
        _("engine runs"),
        null=True,
        blank=True,
        help_text=_("Whether the engine or a drive is run in it. Unknown counts as yes."),
    )
    place = models.SlugField(_("place"), blank=True, help_text=_("Where on the machine."))
    opens = models.JSONField(
        _("to open"), default=list, blank=True, help_text=_("Covers and guards to open.")
    )
    prepare = models.JSONField(_("to prepare"), default=list, blank=True)
    steps = models.JSONField(_("steps"), default=list, blank=True)
    outside = models.CharField(
        _("outside the limits"), max_length=8, choices=Outside.choices, default=Outside.ADJUST
    )
    outside_text = models.TextField(_("what to do outside the limits"), blank=True)
    manual_page = models.CharField(_("page of the manual"), max_length=20, blank=True)
    note = models.TextField(_("note"), blank=True, help_text=_("The table's footnote to it."))
    occasion = models.CharField(
        _("occasion"),
        max_length=200,
        blank=True,
        help_text=_("When it is done where no hours and no months say so: as required, before storage."),
    )

    class Meta:
        verbose_name = _("task")
        verbose_name_plural = _("tasks")
        ordering = ["position", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["version", "code"], name="task_code_once"),
            models.CheckConstraint(
                condition=Q(skill__in=["operator", "technician", "licensed"]), name="skill_known"
            ),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def may_run(self) -> bool:
        """Whether the engine may be run in it: not while oil is out, then, nor before cold work.

        One taken for running costs some minutes; one taken for still could cost an engine.
        """
        return self.runs is not False


class Interval(OrganisationOwned):
    """When a task falls due, in one working condition. See servicing.planning.intervals for the rules."""

    class Anchor(models.TextChoices):
        MARKS = "marks", _("On a fixed schedule")
        DONE = "done", _("From when it was last done")

    task = models.ForeignKey(Task, verbose_name=_("task"), on_delete=models.CASCADE, related_name="intervals")
    condition = models.CharField(
        _("working condition"),
        max_length=10,
        choices=WorkingCondition.choices,
        default=WorkingCondition.NORMAL,
    )
    first_hours = HoursField(_("first after (hours)"), null=True, blank=True)
    every_hours = HoursField(_("interval in hours"), null=True, blank=True)
    first_months = models.PositiveSmallIntegerField(_("first after (months)"), null=True, blank=True)
    every_months = models.PositiveSmallIntegerField(_("interval in months"), null=True, blank=True)
    anchor = models.CharField(_("counted from"), max_length=5, choices=Anchor.choices, default=Anchor.MARKS)
    once = models.BooleanField(_("once"), default=False, help_text=_("Due only the first time."))
    early_window_hours = HoursField(
        _("early window in hours"),
        default=0,
        help_text=_("Work at most this early still counts for the fixed due point."),
    )
    late_allowance_hours = HoursField(
        _("late allowance in hours"),
        default=0,
        help_text=_("Work at most this late still counts as on time."),
    )
    to_month_end = models.BooleanField(
        _("to the end of the month"),
        default=False,
        help_text=_("Months run to the end of the calendar month."),
    )

    class Meta:
        verbose_name = _("interval")
        verbose_name_plural = _("intervals")
        constraints = [
            models.UniqueConstraint(fields=["task", "condition"], name="interval_condition_once"),
            models.CheckConstraint(
                condition=Q(first_hours__gt=0)
                | Q(every_hours__gt=0)
                | Q(first_months__gt=0)
                | Q(every_months__gt=0),
                name="interval_says_when",
            ),
            models.CheckConstraint(
                condition=Q(once=False) | Q(every_hours=None, every_months=None), name="once_does_not_repeat"
            ),
            models.CheckConstraint(
                condition=Q(once=True) | Q(every_hours__gt=0) | Q(every_months__gt=0), name="interval_repeats"
            ),
            models.CheckConstraint(
                condition=Q(early_window_hours__gte=0, late_allowance_hours__gte=0)
                & (Q(every_hours=None) | Q(early_window_hours__lt=F("every_hours"))),
                name="interval_windows_fit",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.task}: {in_a_sentence(self.get_condition_display())}"


class Caution(OrganisationOwned):
    """What can hurt, before the step it belongs to (0: before starting)."""

    task = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="cautions")
    hazard = models.CharField(max_length=10, choices=Hazard.choices, default=Hazard.GENERAL)
    signal = models.CharField(
        max_length=7, choices=Signal.choices, blank=True, help_text=_("How badly it hurts; empty: not said.")
    )
    actions = models.JSONField(
        default=list, blank=True, help_text=_("What must be done or worn, or must not.")
    )
    text = models.TextField()
    before_step = models.PositiveSmallIntegerField(default=0)

    class Meta:
        verbose_name = _("caution")
        verbose_name_plural = _("cautions")
        ordering = ["before_step", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(signal__in=["", *Signal.values]), name="signal_known"),
        ]

    def __str__(self) -> str:
        return self.text


class ToolNeed(OrganisationOwned):
    """A tool with its size."""

    task = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="tools")
    tool = models.CharField(max_length=80)
    size = models.CharField(max_length=40, blank=True)

    class Meta:
        verbose_name = _("tool needed")
        verbose_name_plural = _("tools needed")
        ordering = ["tool", "size"]

    def __str__(self) -> str:
        return f"{self.tool} {self.size}".strip()


class SupplyNeed(OrganisationOwned):
    """A part, oil or other supply with quantity and grade."""

    task = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="supplies")
    part = models.ForeignKey("servicing.Part", on_delete=models.PROTECT, related_name="needs")
    quantity = models.DecimalField(max_digits=9, decimal_places=2)

    class Meta:
        verbose_name = _("supply needed")
        verbose_name_plural = _("supplies needed")
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=Q(quantity__gt=0), name="supply_quantity_positive")]

    def __str__(self) -> str:
        return f"{exact(self.quantity)} {self.part.unit} {self.part.name}"
