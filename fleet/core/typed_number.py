"""Reading a number that a person typed: the one home of what a comma, a point and a space mean in it."""

import re
from decimal import Decimal

from fleet.core.errors import FleetError

SPACES = re.compile(r"\s")  # of every width; they part thousands, or slipped in
PLAIN = re.compile(r"[+-]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)")
TWO_WAYS = re.compile(r"[+-]?[0-9]*,[0-9]{3}|[^,]*,[^.,]*[.,].*|[^.,]*\.[^,]*,.*")
LONGEST = 40  # characters
RULES = {"plain": PLAIN.pattern, "two_ways": TWO_WAYS.pattern, "longest": LONGEST}
"""The rules as data, for a phone to read by without a line (`offline/numbers.js`)."""
SENTENCES = {
    "number": "“{typed}” is not a number; write it like 7.5.",
    "two_ways": "“{typed}” can be read in two ways: write it without commas between thousands, like 1204.5.",
}
"""What is said of what can't be read, here and on a phone without a line."""


class NotANumber(FleetError):
    """What was typed can't be kept as a number."""

    code = "not-a-number"


class TwoWays(NotANumber):
    """One person reads another number in it than the next."""


def read_number(typed: str) -> Decimal:
    """Return the number with every digit that was typed: "7.62", "7,62", "1 204.5" and "−3" are understood.

    Raises TwoWays where a comma could part thousands ("1,204", "1,120.5"); NotANumber for anything else that
    isn't figures with at most one point or comma: letters, an exponent, nothing at all.
    """
    said = typed.strip()
    text = SPACES.sub("", said).replace("−", "-")
    if TWO_WAYS.fullmatch(text):
        raise TwoWays(SENTENCES["two_ways"].format(typed=_short(said)))
    if len(text) > LONGEST or not PLAIN.fullmatch(text):
        raise NotANumber(SENTENCES["number"].format(typed=_short(said)))
    return Decimal(text.replace(",", "."))


def _short(text: str) -> str:
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"
