"""Limits in a specification: `85–95 N·m`, `10 ± 2 mm`, `max. 5 bar`, decimal commas too.

They are words of the task; only on a person's yes do they become a value to be entered. Capacities are
never limits.
"""

import re
from dataclasses import dataclass
from decimal import Decimal

FIGURE = r"\d{1,6}(?:[.,]\d{1,4})?"
UNIT = (
    r"(?P<unit>N·m|Nm|N\.m|N m|lbf·ft|lb-ft|ft-lb|mm|cm|in|kPa|bar|MPa|psi|°C|°F|mV|V|rpm|r/min|U/min|1/min)"
    r"(?![a-zA-Z])"
)
RANGE = re.compile(rf"(?<![\d.,])(?P<low>{FIGURE})\s*(?:-|–|—|to|bis|à|a|tot)\s*(?P<high>{FIGURE})\s*{UNIT}")
AROUND = re.compile(
    rf"(?<![\d.,])(?P<middle>{FIGURE})\s*(?:[^\d\s±]{{1,5}}\s*)?(?:±|\+/-)\s*(?P<off>{FIGURE})\s*{UNIT}"
)
AT_MOST = re.compile(
    rf"(?:max(?:imum|imal)?\.?|≤|<=|höchstens|au plus|máx\.?)\s*(?P<high>{FIGURE})\s*{UNIT}", re.I
)
AT_LEAST = re.compile(
    rf"(?:min(?:imum|imal)?\.?|≥|>=|mindestens|au moins|mín\.?)\s*(?P<low>{FIGURE})\s*{UNIT}", re.I
)
SPELLED = {"N m": "N·m", "U/min": "r/min", "1/min": "r/min"}


@dataclass(frozen=True, slots=True)
class Limit:
    """A value's limits as printed, inclusive; None: none on that side."""

    lower: Decimal | None
    upper: Decimal | None
    unit: str
    words: str


def limits_in(words: str) -> tuple[Limit, ...]:
    """Return the limits that a specification names, each once, in the order they stand."""
    found: dict[int, Limit] = {}
    for pattern in (AROUND, RANGE, AT_MOST, AT_LEAST):
        for match in pattern.finditer(words):
            said = match.groupdict()
            unit = SPELLED.get(said["unit"], said["unit"])
            lower, upper = _number(said.get("low")), _number(said.get("high"))
            middle, off = _number(said.get("middle")), _number(said.get("off"))
            if middle is not None and off is not None:
                lower, upper = middle - off, middle + off
            if lower is not None and upper is not None and lower > upper:
                continue
            found.setdefault(match.start(), Limit(lower, upper, unit, match[0]))
    return tuple(found[at] for at in sorted(found))


def _number(said: str | None) -> Decimal | None:
    return None if said is None else Decimal(said.replace(",", "."))
