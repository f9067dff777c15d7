"""Label sheets by their measures: common trade measures, no source. Millimetres; from the top left corner."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleet.usage.figures import marked

INCH = 25.4


@dataclass(frozen=True)
class LabelSheet:
    """Labels across and down, each so wide and high, the first one `left` and `top` from the corner.

    `across` and `down` lead from a label's corner to the next one's, so they hold the gap. `pad` stays free
    at each side of a label: paper slips a little in a printer, and printers leave its edge white.
    """

    paper: str
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    across: float
    down: float
    pad: float = 2.0

    @property
    def labels(self) -> int:
        """How many labels a sheet has."""
        return self.columns * self.rows

    @property
    def square(self) -> float:
        """Return the side of a QR code with its quiet zone, so that the words beside it have room."""
        return min(self.height - 2 * self.pad, 0.56 * self.width)


SHEETS = {
    "a4-3x7": LabelSheet("a4", 3, 7, 63.5, 38.1, 7.2, 15.15, 66.04, 38.1),
    "a4-3x8": LabelSheet("a4", 3, 8, 64, 33.9, 7, 12.9, 66, 33.9),
    "a4-3x8-no-gap": LabelSheet("a4", 3, 8, 70, 37, 0, 0.5, 70, 37, pad=5),
    "a4-2x7": LabelSheet("a4", 2, 7, 99.1, 38.1, 4.65, 15.15, 101.6, 38.1),
    "a4-2x4": LabelSheet("a4", 2, 4, 99.1, 67.7, 4.65, 13.1, 101.6, 67.7),
    "letter-3x10": LabelSheet(
        "letter", 3, 10, 2.625 * INCH, INCH, 0.1875 * INCH, 0.5 * INCH, 2.75 * INCH, INCH, pad=1.0
    ),
    "letter-2x5": LabelSheet(
        "letter", 2, 5, 4 * INCH, 2 * INCH, 0.15625 * INCH, 0.5 * INCH, 4.1875 * INCH, 2 * INCH
    ),
}


def said(sheet: LabelSheet) -> str:
    """Return a sheet as people tell it from others: "3 × 7 labels of 63.5 × 38.1 mm"."""
    size = marked(f"{sheet.width:.4g} × {sheet.height:.3g} mm")
    if sheet.paper == "letter":
        size = f"{size} ({_inches(sheet.width)} × {_inches(sheet.height)} in)"
    no_gaps = sheet.across == sheet.width and sheet.down == sheet.height
    labels = (
        _("{columns} × {rows} labels of {size}, no gaps")
        if no_gaps
        else _("{columns} × {rows} labels of {size}")
    )
    return labels.format(columns=sheet.columns, rows=sheet.rows, size=size)


def _inches(length: float) -> str:
    whole, eighths = divmod(round(length / INCH * 8), 8)
    return f"{whole}{'⅛¼⅜½⅝¾⅞'[eighths - 1] if eighths else ''}"
