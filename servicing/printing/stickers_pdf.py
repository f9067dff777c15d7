"""Stickers for machines: a square to scan, and for those without a camera what to type."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.conf import settings
from django.urls import reverse

from fleet.models import Machine
from servicing.printing.typst import set_pdf, square


@dataclass(frozen=True)
class Size:
    """How large a sticker is, in mm; `square` is the side of its QR code with its quiet zone."""

    label: str
    width: int
    height: int
    square: int


SIZES = {
    "small": Size("Small, 50 × 25 mm", 50, 25, 25),
    "medium": Size("Medium, 70 × 36 mm", 70, 36, 36),
    "large": Size("Large, 100 × 60 mm", 100, 60, 56),
}
USUAL = "medium"
MOST = 400  # in one file, which takes a few seconds; more come in parts


def sticker_sheet(machines: Sequence[Machine], *, size: str, paper: str, at: datetime) -> bytes:
    """Return stickers of these machines as a PDF. size: one of SIZES; paper: "a4" or "letter"."""
    chosen = SIZES[size]
    words: dict[str, Any] = {
        "width": chosen.width,
        "height": chosen.height,
        "square": chosen.square,
        "stickers": [_sticker(machine) for machine in machines],
    }
    return set_pdf("stickers", words, size=paper, at=at)


def address(machine: Machine) -> str:
    """Return where the machine's sticker leads."""
    return f"{settings.SITE_URL}{reverse('phone-machine', args=[machine.code])}"


def short_address(machine: Machine) -> str:
    """Return the address as one types it."""
    return address(machine).split("://", 1)[-1]


def _sticker(machine: Machine) -> dict[str, str]:
    return {
        "tag": machine.tag,
        "organisation": machine.yard.organisation.name,
        "host": short_address(machine).removesuffix(machine.code),
        "code": machine.code,
        "square": square(address(machine), error="q", border=4),
    }
