"""Stickers for machines: a square to scan, and for those without a camera what to type."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

import segno
from django.conf import settings
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.core.sticker_codes import LENGTH
from fleet.models import Machine
from servicing.printing.label_sheets import LabelSheet
from servicing.printing.typst import set_pdf, square


@dataclass(frozen=True)
class Size:
    """How large a sticker to cut out is, in mm; `square` is the side of its QR code with its quiet zone."""

    named: str | Promise
    width: int
    height: int
    square: int

    @property
    def label(self) -> str:
        """What people tell it by."""
        return str(self.named)


SIZES = {
    "small": Size(_("Small, 50 × 25 mm"), 50, 25, 25),
    "medium": Size(_("Medium, 70 × 36 mm"), 70, 36, 36),
    "large": Size(_("Large, 100 × 60 mm"), 100, 60, 56),
}
USUAL = "medium"
MOST = 400  # in one file, which takes a few seconds; more come in parts
LEAST_MODULE = 0.4  # mm: the smallest square of a code that a phone reads well; common practice, no source
SAMPLE = "0" * LENGTH
ERROR = "q"  # a quarter of it may be dirt
QUIET = 4  # modules left free around it, as ISO/IEC 18004 asks


def cut_outs(machines: Sequence[Machine], *, size: str, paper: str, at: datetime) -> bytes:
    """Return stickers to cut out as a PDF, as many a page as fit. size: of SIZES; paper: "a4" or "letter"."""
    chosen = SIZES[size]
    words: dict[str, Any] = {
        "width": chosen.width,
        "height": chosen.height,
        "square": chosen.square,
        "stickers": [_sticker(machine) for machine in machines],
    }
    return set_pdf("stickers", words, size=paper, at=at)


def labels(machines: Sequence[Machine], *, sheet: LabelSheet, begin: int, at: datetime) -> bytes:
    """Return stickers on label sheets as a PDF, without lines. begin: the first free label, from 1.

    Labels are counted row by row from the top left.
    """
    words = {
        **asdict(sheet),
        "square": sheet.square,
        "begin": begin,
        "stickers": [_sticker(machine) for machine in machines],
    }
    return set_pdf("labels", words, size=sheet.paper, at=at)


def is_read(square_side: float) -> bool:
    """Return whether a phone reads the code of a machine here in a square of so many mm."""
    sample = segno.make(
        f"{settings.SITE_URL}{reverse('phone-machine', args=[SAMPLE])}", error=ERROR, micro=False
    )
    return square_side / sample.symbol_size(border=QUIET)[0] >= LEAST_MODULE


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
        "square": square(address(machine), error=ERROR, border=QUIET),
    }
