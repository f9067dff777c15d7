"""When the processes behind the pages last gave a sign of life; no organisation owns these rows."""

from django.db import models
from django.utils.translation import gettext_lazy as _


class SignOfLife(models.Model):
    """The last sign of one part of the installation."""

    class Part(models.TextChoices):
        BEAT = "beat", _("Scheduler (beat): it put a task on the queue")
        WORKER = "worker", _("Worker: it listens to the queue")
        WORK = "work", _("Queue: a task of the scheduler was done")

    part = models.CharField(max_length=6, choices=Part.choices, primary_key=True)
    at = models.DateTimeField()

    class Meta:
        verbose_name = _("sign of life")
        verbose_name_plural = _("signs of life")

    def __str__(self) -> str:
        return _("{part} at {moment} UTC").format(part=self.part, moment=f"{self.at:%Y-%m-%d %H:%M:%S}")
