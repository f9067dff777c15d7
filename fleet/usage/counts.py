"""How many of something, as a sentence says it."""

from fleet.usage.figures import POINT, grouped, writing


def how_many(number: int) -> str:
    """Return `400000` as `400,000`; with thin spaces for who takes a comma for the decimal mark."""
    return f"{number:,}" if writing().decimal_mark == POINT else grouped(number, 0)
