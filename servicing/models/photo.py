"""Photos taken while working on an order's line."""

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.models import Member
from fleet.models.base import OrganisationOwned
from fleet.models.fields import PhotoPath
from servicing.models.line import Line


class LinePhoto(OrganisationOwned):
    """A photo that belongs to the record of a line."""

    line = models.ForeignKey(
        Line,
        verbose_name=pgettext_lazy("of an order", "line"),
        on_delete=models.CASCADE,
        related_name="photos",
    )
    image = models.ImageField(_("image"), upload_to=PhotoPath("orders"))
    taken_by = models.ForeignKey(
        Member,
        verbose_name=pgettext_lazy("of a photo", "taken by"),
        on_delete=models.SET_NULL,
        null=True,
        related_name="+",
    )
    taken_at = models.DateTimeField(pgettext_lazy("of a photo", "taken at"), default=timezone.now)

    class Meta:
        verbose_name = _("photo of a line")
        verbose_name_plural = _("photos of lines")
        ordering = ["taken_at", "pk"]

    def __str__(self) -> str:
        return _("{line} at {moment}").format(line=self.line, moment=f"{self.taken_at:%Y-%m-%d %H:%M}")
