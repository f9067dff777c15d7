"""Program files that people sent, until a worker has read them."""

from datetime import datetime
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.models.base import OrganisationManager
from fleet.models.sent import Sent


class SentProgramQuerySet(models.QuerySet):
    def stuck(self, now: datetime) -> "SentProgramQuerySet":
        """Files that should be read and that nothing is heard of: no worker got word, or it died."""
        return self.filter(state=SentProgram.State.READING, heard_at__lt=now - SentProgram.PATIENCE)


class SentProgram(Sent):
    """A program file on its way to a draft. What was written is forgotten once it is one."""

    class State(models.TextChoices):
        READING = "reading", pgettext_lazy("state of a file", "Being read")
        REFUSED = "refused", pgettext_lazy("state of a file", "Refused")
        LOADED = "loaded", pgettext_lazy("state of a file", "Loaded")

    written = models.BinaryField(_("text sent"), help_text=_("The YAML as it was sent."))
    trial = models.BooleanField(
        _("trial"), default=False, help_text=_("Taken with invented figures, only to try it out.")
    )
    heard_at = models.DateTimeField(_("last sign of reading at"), default=timezone.now, editable=False)
    state = models.CharField(_("state"), max_length=10, choices=State.choices, default=State.READING)
    faults = models.JSONField(
        pgettext_lazy("of a file", "faults"),
        default=list,
        help_text=_("What is to be put right, where it was refused."),
    )
    version = models.ForeignKey(
        "servicing.ProgramVersion",
        verbose_name=_("version"),
        on_delete=models.SET_NULL,
        null=True,
        related_name="+",
    )

    objects: ClassVar = OrganisationManager.from_queryset(SentProgramQuerySet)()

    class Meta:
        verbose_name = _("sent programme")
        verbose_name_plural = _("sent programmes")
        ordering = ["-sent_at", "-pk"]
        indexes = [
            models.Index(fields=["heard_at"], condition=Q(state="reading"), name="sent_program_reading"),
        ]
