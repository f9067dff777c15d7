"""Column types used all over the house, and where their photos are kept."""

from pathlib import PurePath
from typing import Any
from uuid import uuid4

from django.db import models
from django.utils.deconstruct import deconstructible

from fleet.models.base import OrganisationOwned


class HoursField(models.DecimalField):
    """Hours of running, to a hundredth."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("max_digits", 9)
        kwargs.setdefault("decimal_places", 2)
        super().__init__(*args, **kwargs)


class MoneyField(models.DecimalField):
    """An amount in the organisation's currency."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("max_digits", 12)
        kwargs.setdefault("decimal_places", 2)
        super().__init__(*args, **kwargs)


@deconstructible
class PhotoPath:
    """Where photos are kept: under their organisation, in a folder, by a name that can't be guessed."""

    def __init__(self, folder: str) -> None:
        self.folder = folder

    def __call__(self, row: OrganisationOwned, filename: str) -> str:
        """Return the path for a photo of that name, of which only the suffix is taken over."""
        suffix = PurePath(filename).suffix.lower()[:6]
        return f"{row.organisation_id}/{self.folder}/{uuid4().hex}{suffix}"
