"""Photos that people hand in: judged by what they are, not by what they are called."""

from collections.abc import Iterable
from pathlib import PurePath
from typing import Any, TypeVar

from PIL import Image

from fleet.errors import FleetError

MOST_BYTES = 10 * 1024 * 1024
SUFFIXES = {"JPEG": ".jpg", "PNG": ".png", "WEBP": ".webp"}
Row = TypeVar("Row", bound=Any)


def checked_photo(photo: Any) -> Any:
    """Return the photo, named after what it truly is. Raises FleetError on `photo` for anything else.

    Allowed: JPEG, PNG and WebP of at most 10 MB. The name a sender gives is not trusted.
    """
    if photo.size > MOST_BYTES:
        size = photo.size / 1024 / 1024
        raise FleetError(f"This photo has {size:.1f} MB; at most 10 MB can be kept.", field="photo")
    try:
        photo.seek(0)
        with Image.open(photo, formats=list(SUFFIXES)) as image:
            kind = str(image.format)
            image.verify()
        photo.seek(0)
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        raise FleetError("This file is no photo; take a JPEG, PNG or WebP picture.", field="photo") from None
    photo.name = PurePath(photo.name or "photo").stem[:60] + SUFFIXES[kind]
    return photo


def kept_already(rows: Iterable[Row], photo: Any) -> Row | None:
    """Return the one of these rows whose `image` is, byte by byte, what was handed in: it was sent twice."""
    return next((row for row in rows if _same(row.image, photo)), None)


def _same(kept: Any, photo: Any) -> bool:
    if kept.size != photo.size:
        return False
    photo.seek(0)
    with kept.open("rb") as file:
        same = bool(file.read() == photo.read())
    photo.seek(0)
    return same
