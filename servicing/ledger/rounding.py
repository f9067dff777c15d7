"""How the ledger rounds: half up, once, so that a printed column adds up to its printed total."""

from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")
TENTH = Decimal("0.1")


def half_up(value: Decimal, step: Decimal = CENT) -> Decimal:
    """Return `value` rounded to a multiple of ten like `step` (0.01, 0.1, 1), halves away from zero."""
    return value.quantize(step, rounding=ROUND_HALF_UP)


def share(part: Decimal | int, whole: Decimal | int) -> Decimal | None:
    """Return part / whole in per cent to a tenth; None when the whole is zero."""
    return half_up(Decimal(part) * 100 / Decimal(whole), TENTH) if whole else None
