"""Photos taken while working on an order's line."""

from pathlib import PurePath
from uuid import uuid4

from django.db import models
from django.utils import timezone

from fleet.models import Member
from fleet.models.base import OrganisationOwned
from servicing.models.line import Line


def line_photo_path(photo: "LinePhoto", filename: str) -> str:
    """Return where a photo is kept: under its organisation, by a name that can't be guessed."""
    return f"{photo.organisation_id}/orders/{uuid4().hex}{PurePath(filename).suffix.lower()[:6]}"


class LinePhoto(OrganisationOwned):
    """A photo that belongs to the record of a line."""

    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="photos")
    image = models.ImageField(upload_to=line_photo_path)
    taken_by = models.ForeignKey(Member, on_delete=models.SET_NULL, null=True, related_name="+")
    taken_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["taken_at", "pk"]

    def __str__(self) -> str:
        return f"{self.line} at {self.taken_at:%Y-%m-%d %H:%M}"
