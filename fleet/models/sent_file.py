"""Files of readings that people sent, and the rows of them that couldn't be taken in."""

from datetime import datetime
from typing import ClassVar
from uuid import uuid4

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.sent import Sent


def place(sent: "SentFile", name: str) -> str:
    """Where a file is kept; its own name plays no part in it."""
    return f"{sent.organisation_id}/readings/{uuid4().hex}"


class SentFileQuerySet(models.QuerySet):
    def at_work(self) -> "SentFileQuerySet":
        """Files that a worker reads or takes in, or will."""
        return self.filter(state__in=SentFile.AT_WORK)

    def stuck(self, now: datetime) -> "SentFileQuerySet":
        """Files being read or on their way in that nothing is heard of: no worker got word, or it died."""
        return self.at_work().filter(heard_at__lt=now - SentFile.PATIENCE)

    def unsampled(self) -> "SentFileQuerySet":
        """Files whose first rows weren't kept yet when they came in: what was refused lacks its headings."""
        taken_in = (SentFile.State.RUNNING, SentFile.State.FAILED, SentFile.State.DONE)
        return self.filter(state__in=taken_in, sample=[], tries__lt=SentFile.MOST_TRIES)


class SentFile(Sent):
    """A file of readings on its way in. How far it has come is kept with each batch of rows it counts."""

    class State(models.TextChoices):
        READING = "reading", _("Being read")
        UNREAD = "unread", _("Unreadable")
        WAITING = "waiting", _("Waiting for you")
        RUNNING = "running", _("Importing")
        DONE = "done", _("Imported")
        FAILED = "failed", _("Stopped")
        DISCARDED = "discarded", _("Discarded")

    AT_WORK = (State.READING, State.RUNNING)  # of a worker

    file = models.FileField(_("file"), upload_to=place, max_length=120)
    look = models.CharField(
        _("kind of file"), max_length=80, blank=True, help_text=_("What kind of file it is, for a person.")
    )
    state = models.CharField(_("state"), max_length=10, choices=State.choices, default=State.READING)
    plan = models.JSONField(_("columns"), default=dict, help_text=_("Which column holds what."))
    sample = models.JSONField(_("first rows"), default=list)
    firsts = models.JSONField(
        _("first readings"), default=list, help_text=_("Rows of machines that have no reading yet.")
    )
    rows = models.PositiveIntegerField(
        _("rows"), default=0, help_text=_("Rows that aren't blank, without the heading.")
    )
    done = models.PositiveIntegerField(_("done"), default=0, help_text=_("Rows dealt with so far."))
    counted = models.PositiveIntegerField(_("counted"), default=0)
    held = models.PositiveIntegerField(_("held"), default=0)
    duplicate = models.PositiveIntegerField(_("known already"), default=0)
    refused = models.PositiveIntegerField(_("refused"), default=0)
    ended_at = models.DateTimeField(_("ended at"), null=True, editable=False)
    fault = models.TextField(
        pgettext_lazy("of a file", "fault"),
        blank=True,
        help_text=_("Why it can't be read, or was broken off."),
    )

    objects: ClassVar = OrganisationManager.from_queryset(SentFileQuerySet)()

    class Meta:
        verbose_name = _("sent file")
        verbose_name_plural = _("sent files")
        ordering = ["-sent_at", "-pk"]
        indexes = [
            models.Index(
                fields=["heard_at"], condition=Q(state__in=["reading", "running"]), name="sent_file_at_work"
            ),
        ]

    @property
    def share(self) -> int:
        """How much of it is dealt with, in per cent."""
        return 100 * self.done // self.rows if self.rows else 100


class RejectedRow(OrganisationOwned):
    """A row that couldn't be taken in, as it stood in the file, with the reason."""

    file = models.ForeignKey(
        SentFile, verbose_name=_("file"), on_delete=models.CASCADE, related_name="rejected"
    )
    sheet = models.CharField(_("sheet"), max_length=80, blank=True)
    line = models.PositiveIntegerField(pgettext_lazy("a column of rejected rows", "line"))
    place = models.PositiveIntegerField(
        _("place in the line"), default=0, help_text=_("Which of the readings that stand in one line.")
    )
    reason = models.TextField(_("reason"))
    cells = models.JSONField(_("cells"))

    class Meta:
        verbose_name = _("rejected row")
        verbose_name_plural = _("rejected rows")
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["file", "sheet", "line", "place"], name="rejected_row_once")
        ]

    def __str__(self) -> str:
        return _("{file}, line {line}").format(file=self.file, line=self.line)
