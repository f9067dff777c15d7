"""Reading a number: the one home of what a comma, a point and a space mean in it.

What a person types is read whole or refused in words; where the decimal mark is known, or only a plain
number will do, the caller says what is wrong. Limits are the caller's, too.
"""

import re
from decimal import Decimal
from typing import Any

from django.utils.functional import lazy
from django.utils.translation import gettext_lazy as _

from fleet.core.errors import FleetError
from fleet.usage.figures import COMMA, POINT, writing

SPACES = re.compile(r"\s")  # of every width; they part thousands, or slipped in
APART = r"[\s'’`]"  # what may stand between thousands in a file
TYPED = re.compile(r"[+-]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)")
TWO_WAYS = {  # by the reader's own decimal mark: the other one may part thousands
    POINT: re.compile(r"[+-]?[0-9]*,[0-9]{3}|[^,]*,[^.,]*[.,].*|[^.,]*\.[^,]*,.*"),
    COMMA: re.compile(r"[+-]?[0-9]*\.[0-9]{3}|[^.]*\.[^.,]*[.,].*|[^.,]*,[^.]*\..*"),
}
PLAIN = re.compile(r"[+-]?\d{1,12}(?:\.\d{1,12})?")
MARKED = {
    POINT: re.compile(r"[+-]?(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?"),
    COMMA: re.compile(r"[+-]?(?:\d{1,3}(?:\.\d{3})+|\d+)(?:,\d+)?"),
}
WHOLE = re.compile(r"[0-9]{1,18}")  # no more figures than every database keeps
LONGEST = 40  # characters
IN_TWO_WAYS = {
    POINT: _("“{typed}” can be read in two ways: write it without commas between thousands, like 1204.5."),
    COMMA: _("“{typed}” can be read in two ways: write it without points between thousands, like 1204,5."),
}
SENTENCES: dict[str, Any] = {
    "number": _("“{typed}” is not a number; write it like 7.5."),
    "two_ways": lazy(lambda: str(IN_TWO_WAYS[writing().decimal_mark]), str)(),
}
"""What is said of what can't be read, here and on a phone without a line: in the language of the moment."""


class NotANumber(FleetError):
    """What was typed can't be kept as a number."""

    code = "not-a-number"


class TwoWays(NotANumber):
    """One person reads another number in it than the next."""


def rules() -> dict[str, Any]:
    """Return the rules for what the reader types, for a phone to read by (`offline/numbers.js`)."""
    two_ways = TWO_WAYS[writing().decimal_mark]
    return {"plain": TYPED.pattern, "two_ways": two_ways.pattern, "longest": LONGEST}


def read_typed(typed: str) -> Decimal:
    """Return the number with every digit that was typed: "7.62", "7,62", "1 204.5" and "−3" are understood.

    Raises TwoWays where the mark that isn't the reader's own could part thousands: "1,204" and "1,120.5" for
    who writes a point, "1.204" and "1.120,5" for who writes a comma. Raises NotANumber for anything else that
    isn't figures with at most one point or comma: letters, an exponent, nothing at all.
    """
    said = typed.strip()
    text = SPACES.sub("", said).replace("−", "-")
    if TWO_WAYS[writing().decimal_mark].fullmatch(text):
        raise TwoWays(SENTENCES["two_ways"].format(typed=_short(said)))
    if len(text) > LONGEST or not TYPED.fullmatch(text):
        raise NotANumber(SENTENCES["number"].format(typed=_short(said)))
    return Decimal(text.replace(COMMA, POINT))


def read_plain(text: str) -> Decimal | None:
    """Return a number written with a point, as a program writes it: "1204.5"; None where it isn't one."""
    return Decimal(text) if text.isascii() and PLAIN.fullmatch(text) else None


def read_marked(text: str, mark: str) -> Decimal | None:
    """Return a number whose fraction stands after `mark`, a point or a comma; None where it isn't one.

    The other of the two may part thousands, and so may spaces and apostrophes.
    """
    text = re.sub(APART, "", text)
    if not MARKED[mark].fullmatch(text):
        return None
    text = text.replace(COMMA if mark == POINT else POINT, "").replace(mark, POINT)
    return Decimal(text) if PLAIN.fullmatch(text) else None


def read_whole(text: str) -> int | None:
    """Return a whole number in figures alone, as an address names a row; None where it isn't one."""
    return int(text) if WHOLE.fullmatch(text) else None


def _short(text: str) -> str:
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"
