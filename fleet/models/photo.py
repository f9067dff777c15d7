"""Photos of meters, kept with the readings they show."""

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.models.base import OrganisationOwned
from fleet.models.fields import PhotoPath
from fleet.models.meter import Reading


class ReadingPhoto(OrganisationOwned):
    """A photo of what the meter showed. It comes after its reading, which waits for no photo."""

    reading = models.ForeignKey(Reading, on_delete=models.CASCADE, related_name="photos")
    image = models.ImageField(upload_to=PhotoPath("readings"))
    taken_by = models.ForeignKey("fleet.Member", on_delete=models.SET_NULL, null=True, related_name="+")
    received_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ["received_at", "pk"]

    def __str__(self) -> str:
        return _("{reading}, photo").format(reading=self.reading)
