"""Photos taken while working on an order's line."""

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.models import Member
from fleet.models.base import OrganisationOwned
from fleet.models.fields import PhotoPath
from servicing.models.line import Line


class LinePhoto(OrganisationOwned):
    """A photo that belongs to the record of a line."""

    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="photos")
    image = models.ImageField(upload_to=PhotoPath("orders"))
    taken_by = models.ForeignKey(Member, on_delete=models.SET_NULL, null=True, related_name="+")
    taken_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["taken_at", "pk"]

    def __str__(self) -> str:
        return _("{line} at {moment}").format(line=self.line, moment=f"{self.taken_at:%Y-%m-%d %H:%M}")
