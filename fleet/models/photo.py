"""Photos of meters, kept with the readings they show."""

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.models.base import OrganisationOwned
from fleet.models.fields import PhotoPath
from fleet.models.meter import Reading


class ReadingPhoto(OrganisationOwned):
    """A photo of what the meter showed. It comes after its reading, which waits for no photo."""

    reading = models.ForeignKey(
        Reading, verbose_name=_("reading"), on_delete=models.CASCADE, related_name="photos"
    )
    image = models.ImageField(_("image"), upload_to=PhotoPath("readings"))
    taken_by = models.ForeignKey(
        "fleet.Member",
        verbose_name=pgettext_lazy("of a photo", "taken by"),
        on_delete=models.SET_NULL,
        null=True,
        related_name="+",
    )
    received_at = models.DateTimeField(_("received at"), default=timezone.now, editable=False)

    class Meta:
        verbose_name = _("photo of a reading")
        verbose_name_plural = _("photos of readings")
        ordering = ["received_at", "pk"]

    def __str__(self) -> str:
        return _("{reading}, photo").format(reading=self.reading)
