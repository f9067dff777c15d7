"""Program files that people sent, until a worker has read them."""

from datetime import datetime, timedelta
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone

from fleet.models.base import OrganisationManager, OrganisationOwned


class SentProgramQuerySet(models.QuerySet):
    def stuck(self, now: datetime) -> "SentProgramQuerySet":
        """Files that should be read and that nothing is heard of: no worker got word, or it died."""
        return self.filter(state=SentProgram.State.READING, heard_at__lt=now - SentProgram.PATIENCE)


class SentProgram(OrganisationOwned):
    """A program file on its way to a draft. What was written is forgotten once it is one."""

    PATIENCE = timedelta(minutes=2)

    class State(models.TextChoices):
        READING = "reading", "Being read"
        REFUSED = "refused", "Refused"
        LOADED = "loaded", "Loaded"

    name = models.CharField(max_length=200, help_text="What it was called where it came from.")
    written = models.BinaryField(help_text="The YAML as it was sent.")
    trial = models.BooleanField(default=False, help_text="Taken with invented figures, only to try it out.")
    sent_by = models.ForeignKey("fleet.Member", on_delete=models.SET_NULL, null=True, related_name="+")
    sent_at = models.DateTimeField(default=timezone.now, editable=False)
    heard_at = models.DateTimeField(default=timezone.now, editable=False)
    state = models.CharField(max_length=10, choices=State.choices, default=State.READING)
    tries = models.PositiveSmallIntegerField(default=0, help_text="How often its reading was begun.")
    faults = models.JSONField(default=list, help_text="What is to be put right, where it was refused.")
    version = models.ForeignKey(
        "servicing.ProgramVersion", on_delete=models.SET_NULL, null=True, related_name="+"
    )

    objects: ClassVar = OrganisationManager.from_queryset(SentProgramQuerySet)()

    class Meta:
        ordering = ["-sent_at", "-pk"]
        indexes = [
            models.Index(fields=["heard_at"], condition=Q(state="reading"), name="sent_program_reading"),
        ]

    def __str__(self) -> str:
        return self.name
