"""Figures as people write them in tables, read by the file's own habits; days are `cell_days`."""

import re
from datetime import UTC, datetime, time, timedelta
from decimal import Decimal

from django.utils.translation import gettext as _

from fleet.core.number_reader import COMMA, POINT, read_marked
from fleet.imports.months import folded
from fleet.imports.table import Cell
from fleet.usage.figures import exact

HOUR = r"(?:hours?|hrs?|h|std|stdn|stunden?|bh|bstd|betriebsstunden|heures?|horas?|ore|ora|uren|uur)"
UNIT = re.compile(rf"(?<=[\d.,])\s*{HOUR}\.?\s*$|^(?:h|hrs?|std|bh)\.?\s+(?=[\d.,])", re.IGNORECASE)
LENGTH = re.compile(r"(\d{1,7})(?::|\s*h\s*)([0-5]\d)(?::([0-5]\d))?\s*(?:min|m)?\.?", re.IGNORECASE)
ABOUT = re.compile(
    r"^(?:ca|circa|approx\w*|about|around|env|environ|aprox\w*|ongeveer|etwa|rund|gut|~|≈|±|<|>)[\s.~]*\d"
    r"|\d.*[?~]|\d.*\b(?:geschatzt|gesch|estimated|est|estime|estimado|stimato|geschat)\b",
)
CLOCK = re.compile(r"(\d{1,2})[:.h](\d{2})(?::(\d{2})(?:\.\d+)?)? *([AaPp])?\.?(?:[Mm]\.?)?")
HUNDREDTH = Decimal("0.01")


class Wrong(ValueError):
    """A cell can't be read; the text says so to a person."""


def read_number(cell: Cell, decimal: str, minutes: Cell = None, tenths: Cell = None) -> Decimal:
    """Read hours. `decimal` is the mark before a fraction; the other mark may part thousands.

    A figure that can only be meant one way is read that way whatever the mark: "1204,5" is no thousands.
    "1216:30" and "1216 h 30" are hours and minutes, to a hundredth of an hour; `minutes` and `tenths`
    are those of columns of their own. Raises Wrong.
    """
    number = _hours(cell, decimal)
    if tenths not in (None, ""):
        number += _tenths(number, tenths)
    return number if minutes in (None, "") else number + _minutes(minutes)


def read_marked_hours(cell: Cell, decimal: str) -> Decimal:
    """Read hours by that decimal mark alone. Raises Wrong."""
    return _hours(cell, decimal, other=False)


def _hours(cell: Cell, decimal: str, *, other: bool = True) -> Decimal:
    if isinstance(cell, bool) or cell is None or cell == "":
        raise Wrong(_("The hours are missing."))
    if isinstance(cell, int | float):
        return exact(cell)
    if not isinstance(cell, str):
        raise Wrong(_("The hours hold a date. Format the cell as a number."))
    text = cell.strip()
    if ABOUT.search(folded(text)):
        said = _("“{cell}” isn't certain. Read the meter, and write the figure alone.")
        raise Wrong(said.format(cell=short(cell)))
    if length := LENGTH.fullmatch(text):
        return (Decimal(length[1]) + _sixtieths(length[2], length[3])).quantize(HUNDREDTH)
    text = UNIT.sub("", text)
    for mark in (decimal, *({POINT, COMMA} - {decimal} if other else ())):
        if (number := read_marked(text, mark)) is not None:
            return number
    raise Wrong(_("“{cell}” is not a number of hours.").format(cell=short(cell)))


def _minutes(cell: Cell) -> Decimal:
    text = str(cell).strip()
    text = text.removesuffix(".0") if isinstance(cell, float) else text
    if re.fullmatch(r"[0-5]?\d", text):
        return (Decimal(text) / 60).quantize(HUNDREDTH)
    raise Wrong(_("“{cell}” are not minutes of an hour.").format(cell=short(cell)))


def _tenths(number: Decimal, cell: Cell) -> Decimal:
    text = str(cell).strip()
    text = text.removesuffix(".0") if isinstance(cell, float) else text
    if re.fullmatch(r"[0-9]", text) and number == number.to_integral_value():
        return Decimal(text) / 10
    raise Wrong(_("“{cell}” are no tenths of these hours.").format(cell=short(cell)))


def _sixtieths(minutes: str, seconds: str | None) -> Decimal:
    return (Decimal(minutes) + Decimal(seconds or 0) / 60) / 60


def read_clock(cell: Cell) -> time | None:
    """Read a time of day, None where there is none. Raises Wrong."""
    if cell is None or cell == "":
        return None
    if isinstance(cell, datetime):
        return cell.time()
    if isinstance(cell, time):
        return cell
    if isinstance(cell, float | int) and 0 <= cell < 1:  # a spreadsheet's share of a day
        return (datetime(2000, 1, 1, tzinfo=UTC) + timedelta(seconds=round(cell * 86400))).time()
    match = CLOCK.fullmatch(str(cell).strip())
    if match is None:
        raise Wrong(_("“{cell}” is not a time of day.").format(cell=short(cell)))
    hour = int(match[1])
    if match[4]:
        if not 1 <= hour <= 12:
            raise Wrong(_("“{cell}” is not a time of day.").format(cell=short(cell)))
        hour = hour % 12 + (12 if match[4].lower() == "p" else 0)
    try:
        return time(hour, int(match[2]), int(match[3] or 0))
    except ValueError:
        raise Wrong(_("“{cell}” is not a time of day.").format(cell=short(cell))) from None


def short(cell: Cell) -> str:
    """A cell as an error quotes it."""
    text = str(cell)
    return text if len(text) <= 40 else f"{text[:39]}…"
