"""When the processes behind the pages last gave a sign of life; no organisation owns these rows."""

from django.db import models


class SignOfLife(models.Model):
    """The last sign of one part of the installation."""

    class Part(models.TextChoices):
        BEAT = "beat", "Scheduler (beat): it put a task on the queue"
        WORKER = "worker", "Worker: it listens to the queue"
        WORK = "work", "Queue: a task of the scheduler was done"

    part = models.CharField(max_length=6, choices=Part.choices, primary_key=True)
    at = models.DateTimeField()

    class Meta:
        verbose_name = "sign of life"
        verbose_name_plural = "signs of life"

    def __str__(self) -> str:
        return f"{self.part} at {self.at:%Y-%m-%d %H:%M:%S} UTC"
