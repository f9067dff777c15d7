"""Service programs: what the maker of a machine type wants done, in versions."""

from typing import ClassVar

from django.db import models
from django.db.models import Count, Q
from django.utils import timezone
from django.utils.translation import gettext, gettext_noop, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from fleet.models import MachineType
from fleet.models.base import OrganisationManager, OrganisationOwned

INVENTED_FIGURES = gettext_noop("Invented figures: for trying out only. Use the maker's manual.")
"""Stands in the head of whatever is made from a program with invented figures; to be translated there."""


class ServiceProgram(OrganisationOwned):
    """The maintenance table of one machine type."""

    machine_type = models.OneToOneField(
        MachineType, verbose_name=_("machine type"), on_delete=models.PROTECT, related_name="program"
    )
    code = models.SlugField(_("code"))
    title = models.CharField(_("title"), max_length=120)
    source = models.TextField(_("source"), blank=True, help_text=_("The manual it was taken from."))
    round = models.JSONField(
        _("round"), default=list, help_text=_("Places on the machine in the order one walks round it.")
    )

    class Meta:
        verbose_name = _("service programme")
        verbose_name_plural = _("service programmes")
        ordering = ["title"]
        constraints = [models.UniqueConstraint(fields=["organisation", "code"], name="program_code_once")]

    def __str__(self) -> str:
        return self.title


class ProgramVersionQuerySet(models.QuerySet):
    def current(self) -> "ProgramVersionQuerySet":
        """The versions that duties are made from; one for each program."""
        return self.filter(state=ProgramVersion.State.CURRENT)

    def drafts(self) -> "ProgramVersionQuerySet":
        """The versions still being written; at most one for each program."""
        return self.filter(state=ProgramVersion.State.DRAFT)

    def invented_for(self, machine_type: int) -> "ProgramVersionQuerySet":
        """The current version for a machine type where its figures are invented."""
        return self.current().filter(invented=True, program__machine_type=machine_type)

    def with_counts(self) -> "ProgramVersionQuerySet":
        """Add `task_count` and `machine_count`, the machines in service that follow the program."""
        return self.annotate(
            task_count=Count("tasks", distinct=True),
            machine_count=Count(
                "program__machine_type__machines",
                distinct=True,
                filter=Q(program__machine_type__machines__retired_on=None),
            ),
        )


class ProgramVersion(OrganisationOwned):
    """A state of a program. An open work order keeps the version it was made from."""

    class State(models.TextChoices):
        DRAFT = "draft", pgettext_lazy("state of a programme", "Draft")
        CURRENT = "current", pgettext_lazy("state of a programme", "Current")
        RETIRED = "retired", pgettext_lazy("state of a programme", "Retired")

    program = models.ForeignKey(
        ServiceProgram, verbose_name=_("programme"), on_delete=models.CASCADE, related_name="versions"
    )
    number = models.PositiveIntegerField(_("number"))
    state = models.CharField(_("state"), max_length=8, choices=State.choices, default=State.DRAFT)
    made_by = models.ForeignKey(
        "fleet.Member",
        verbose_name=_("made by"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
    )
    made_at = models.DateTimeField(_("made at"), default=timezone.now, editable=False)
    note = models.TextField(_("note"), blank=True)

    invented = models.BooleanField(
        _("invented"), default=False, help_text=_("Its figures are invented: for trying out only.")
    )
    replaced_by = models.ForeignKey(
        "fleet.Member",
        verbose_name=_("figures replaced by"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        editable=False,
    )
    replaced_at = models.DateTimeField(_("figures replaced at"), null=True, editable=False)
    replaced_from = models.TextField(
        _("figures replaced from"),
        blank=True,
        editable=False,
        help_text=_("The manual each invented figure was replaced from."),
    )

    objects: ClassVar = OrganisationManager.from_queryset(ProgramVersionQuerySet)()

    class Meta:
        verbose_name = _("programme version")
        verbose_name_plural = _("programme versions")
        ordering = ["program", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["program", "number"], name="program_version_once"),
            models.UniqueConstraint(
                fields=["program"], condition=Q(state="current"), name="one_current_version"
            ),
            models.CheckConstraint(
                condition=Q(replaced_at=None, replaced_by=None, replaced_from="")
                | (
                    Q(invented=False, replaced_at__isnull=False, replaced_by__isnull=False)
                    & ~Q(replaced_from="")
                ),
                name="replaced_figures_say_who_when_and_from_what",
            ),
        ]

    def __str__(self) -> str:
        return gettext("{program}, version {number}").format(program=self.program, number=self.number)
