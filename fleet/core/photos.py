"""Photos that people hand in: judged by what they are, and kept without what they tell beside the picture."""

from collections.abc import Iterable
from io import BytesIO
from math import ceil
from pathlib import PurePath
from threading import Lock
from typing import Any, TypeVar

from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils.translation import gettext as _
from PIL import Image
from PIL.ExifTags import Base

from fleet.core.errors import FleetError
from fleet.usage.figures import marked

MEGABYTE = 1024 * 1024
MOST_BYTES = 10 * MEGABYTE
MOST_PIXELS = 52_000_000  # what a telephone of 50 megapixels takes; some 200 MB once unpacked
ONE_AT_A_TIME = Lock()  # of a process, so that a few large photos at once don't take its memory
SUFFIXES = {"JPEG": ".jpg", "PNG": ".png", "WEBP": ".webp"}
HOW_KEPT: dict[str, dict[str, Any]] = {
    "JPEG": {"quality": "keep"},  # the same tables as before, so what is seen stays
    "MPO": {"quality": 92},  # a JPEG with more pictures behind it, as many telephones make them
    "PNG": {},
    "WEBP": {"quality": 90},
}
TURNED = range(2, 9)  # values of Exif's Orientation that turn or mirror the picture; 1: as it is
SHOWN = {  # what Pillow tells of a file that belongs to the picture itself
    *("jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi", "adobe", "adobe_transform"),
    *("progressive", "progression", "icc_profile", "exif", "gamma", "srgb", "chromaticity", "transparency"),
    *("interlace", "aspect", "loop", "background", "duration", "timestamp", "default_image"),
}
Row = TypeVar("Row", bound=Any)


def checked_photo(photo: Any) -> SimpleUploadedFile:
    """Return the photo as it is kept: the picture alone, named after what it truly is.

    Allowed: JPEG, PNG and WebP of at most 10 MB. The name a sender gives is not trusted. A telephone writes
    into its photos where and when they were taken and with what: all of that is left out, except how the
    picture is turned and its colours. Raises FleetError on `photo` for anything that can't be kept.
    """
    if photo.size > MOST_BYTES:
        size, most = ceil(photo.size / MEGABYTE * 10) / 10, MOST_BYTES // MEGABYTE
        said = _("This photo has {size} MB; at most {most} MB can be kept.")
        raise FleetError(said.format(size=marked(f"{size:.1f}"), most=most), field="photo")
    try:
        photo.seek(0)
        with Image.open(photo, formats=list(SUFFIXES)) as image:
            pixels = image.width * image.height
        if pixels > MOST_PIXELS:
            raise _too_many_pixels()
        photo.seek(0)
        with ONE_AT_A_TIME:
            kind, bare = picture_alone(photo)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise _too_many_pixels() from None
    except (OSError, SyntaxError, ValueError, EOFError):
        raise FleetError(
            _("This file is not a photo. Use a JPEG, PNG or WebP picture."), field="photo"
        ) from None
    name = PurePath(photo.name or "photo").stem[:60] + SUFFIXES[kind]
    return SimpleUploadedFile(name, bare, content_type=Image.MIME[kind])


def _too_many_pixels() -> FleetError:
    said = _("This photo has more than {most} million pixels. Take it with a lower resolution.")
    return FleetError(said.format(most=MOST_PIXELS // 10**6), field="photo")


def picture_alone(file: Any) -> tuple[str, bytes]:
    """Return what kind of picture a file is ("JPEG", "PNG" or "WEBP"), and it without all it tells besides.

    It is written out afresh, so that nothing in or behind it comes along. Raises what Pillow raises: OSError,
    SyntaxError, ValueError, EOFError, DecompressionBombError.
    """
    with Image.open(file, formats=list(SUFFIXES)) as image:
        image.load()
        kind = "JPEG" if image.format == "MPO" else str(image.format)
        how = {
            "icc_profile": image.info.get("icc_profile"),
            "exif": _turn(image),
            **HOW_KEPT[str(image.format)],
        }
        for told in image.info.keys() - SHOWN | {"exif"}:
            image.info.pop(told, None)
        out = BytesIO()
        image.save(out, kind, **how)
    return kind, out.getvalue()


def _turn(image: Image.Image) -> bytes:
    """Exif that says how the picture is turned, and nothing else."""
    turned = image.getexif().get(Base.Orientation)
    if turned not in TURNED:
        return b""
    exif = Image.Exif()
    exif[Base.Orientation] = turned
    return exif.tobytes()


def tells_more(file: Any) -> bool:
    """Whether a picture that is kept tells more than it shows, as those do that were kept as they came."""
    file.seek(0)
    with Image.open(file, formats=list(SUFFIXES)) as image:
        image.load()
        exif = {*image.getexif()} - {Base.Orientation}
        return bool(exif or image.info.keys() - SHOWN or image.format not in SUFFIXES)


def kept_already(rows: Iterable[Row], photo: Any) -> Row | None:
    """Return the one of these rows whose `image` is, byte by byte, what was handed in: it was sent twice."""
    return next((row for row in rows if _same(row.image, photo)), None)


def _same(kept: Any, photo: Any) -> bool:
    if kept.size != photo.size:
        return False
    with kept.open("rb") as file:
        return bool(file.read() == _whole(photo))


def _whole(photo: Any) -> bytes:
    photo.seek(0)
    whole: bytes = photo.read()
    photo.seek(0)
    return whole
