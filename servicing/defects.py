"""Faults: anybody who sees one reports it, with a photo where that helps."""

from pathlib import PurePath
from typing import Any

from django.core.files import File
from django.db import transaction
from PIL import Image

from fleet.errors import FleetError, NotAllowed
from fleet.models import Machine, Member
from servicing.models import Defect

MOST_BYTES = 10 * 1024 * 1024
SUFFIXES = {"JPEG": ".jpg", "PNG": ".png", "WEBP": ".webp"}


def report(
    *,
    machine: Machine,
    text: str,
    severity: str,
    member: Member,
    photo: File | None = None,
    found_at: str = Defect.FoundAt.FIELD,
) -> Defect:
    """Write down a fault of a machine; return it.

    severity and found_at: of Defect.Severity and Defect.FoundAt. A fault that must be fixed first keeps the
    machine from going out. Raises NotAllowed; FleetError on `text`, `severity` or `photo`.
    """
    if not member.active or member.organisation_id != machine.organisation_id:
        raise NotAllowed("Only members of the organisation report faults on its machines.")
    if not text.strip():
        raise FleetError("Say what is wrong, so that someone else finds it.", field="text")
    if severity not in Defect.Severity.values:
        raise FleetError("Choose how bad it is.", field="severity")
    with transaction.atomic():
        return Defect.objects.create(
            organisation_id=machine.organisation_id,
            machine=machine,
            text=text.strip(),
            severity=severity,
            photo=checked_photo(photo) if photo else "",
            found_at=found_at,
            reported_by=member,
        )


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
