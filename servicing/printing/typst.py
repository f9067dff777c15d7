"""Setting a template with its words into a PDF, in the reader's language."""

import json
from datetime import datetime
from io import BytesIO
from typing import Any

import segno
import typst
from django.conf import settings
from django.utils.translation import get_language, gettext

from servicing.printing.typeset import FOLDER, every_message

SIZES = {"a4": "a4", "letter": "us-letter"}
USUAL = {"metric": "a4", "us": "letter"}


def usual_size(units: str) -> str:
    """Return the paper people use who think in these units: "a4" or "letter"."""
    return USUAL.get(units, "a4")


def set_pdf(template: str, words: dict[str, Any], *, size: str, at: datetime) -> bytes:
    """Return the PDF of a template in this folder. `words` must be fit for JSON; `at`: when it is printed.

    Raises KeyError for a size of paper that isn't in SIZES.
    """
    given = {
        "words": json.dumps(words),
        "paper": SIZES[size],
        "language": get_language() or settings.LANGUAGE_CODE,
        "translated": json.dumps({message: gettext(message) for message in every_message()}),
    }
    return typst.compile(
        FOLDER / f"{template}.typ", root=FOLDER, sys_inputs=given, timestamp=at.replace(microsecond=0)
    )


def square(address: str, *, error: str = "m", border: int = 0) -> str:
    """Return a QR code of an address as an SVG, black on nothing.

    Of ISO/IEC 18004 are error, how much may be lost to dirt at least (m 15 %, q 25 %), and border, the quiet
    zone in modules: the standard asks for 4 wherever the paper around it isn't blank.
    """
    drawn = BytesIO()
    segno.make(address, error=error, micro=False).save(
        drawn, kind="svg", border=border, xmldecl=False, svgns=True, unit="mm", scale=1
    )
    return drawn.getvalue().decode()
