"""Where one machine departs from its program, and why."""

from typing import ClassVar

from django.db import models
from django.db.models import OuterRef, Q, Subquery
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Machine, Member
from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.fields import HoursField
from servicing.models.program import ProgramVersion, ServiceProgram
from servicing.models.task import Task


class TaskOverrideQuerySet(models.QuerySet):
    def with_titles(self) -> "TaskOverrideQuerySet":
        """Add `title`, the task's words in the newest version that has it, and who made it."""
        task = Task.objects.filter(code=OuterRef("task_code"), version__program=OuterRef("program"))
        newest = task.exclude(version__state=ProgramVersion.State.DRAFT).order_by("-version__number")
        return self.select_related("made_by__user").annotate(title=Subquery(newest.values("title")[:1]))


class TaskOverride(OrganisationOwned):
    """A task of the program done on this machine at another interval, or not at all."""

    machine = models.ForeignKey(
        Machine, verbose_name=_("machine"), on_delete=models.CASCADE, related_name="overrides"
    )
    program = models.ForeignKey(
        ServiceProgram, verbose_name=_("programme"), on_delete=models.CASCADE, related_name="overrides"
    )
    task_code = models.SlugField(_("code of the task"))
    left_out = models.BooleanField(
        _("left out"), default=False, help_text=_("The task is not done on this machine.")
    )
    every_hours = HoursField(_("interval in hours"), null=True, blank=True)
    every_months = models.PositiveSmallIntegerField(_("interval in months"), null=True, blank=True)
    reason = models.TextField(_("reason"))
    made_by = models.ForeignKey(
        Member, verbose_name=_("made by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    made_at = models.DateTimeField(_("made at"), default=timezone.now, editable=False)

    objects: ClassVar = OrganisationManager.from_queryset(TaskOverrideQuerySet)()

    class Meta:
        verbose_name = _("deviation")
        verbose_name_plural = _("deviations")
        constraints = [
            models.UniqueConstraint(fields=["machine", "program", "task_code"], name="override_once"),
            models.CheckConstraint(condition=~Q(reason=""), name="override_says_why"),
            models.CheckConstraint(
                condition=Q(left_out=True, every_hours=None, every_months=None)
                | (Q(left_out=False) & (Q(every_hours__gt=0) | Q(every_months__gt=0))),
                name="override_says_what",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.machine}: {self.task_code}"
