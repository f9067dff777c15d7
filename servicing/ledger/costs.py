"""What a month cost, and what a published standard would have expected it to cost."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from servicing.ledger.rounding import half_up

STANDARD = "ASAE D497.7, Agricultural Machinery Management Data"


@dataclass(frozen=True)
class RepairFactors:
    """RF1 and RF2 of a machine class.

    `checked` says that they reproduce a published table (Iowa State University Extension A3-29, Table 3);
    the others are from memory and not to be shown as published.
    """

    name: str
    rf1: Decimal
    rf2: Decimal
    checked: bool


def _factors(name: str, rf1: str, rf2: str, *, checked: bool = False) -> RepairFactors:
    return RepairFactors(name, Decimal(rf1), Decimal(rf2), checked)


REPAIR_FACTORS: dict[str, RepairFactors] = {
    "tractor-2wd": _factors("two-wheel-drive tractor", "0.007", "2.0", checked=True),
    "tractor-4wd": _factors("four-wheel-drive or crawler tractor", "0.003", "2.0", checked=True),
    "moldboard-plow": _factors("moldboard plow", "0.29", "1.8", checked=True),
    "disk": _factors("heavy-duty or tandem disk", "0.18", "1.7", checked=True),
    "chisel-plow": _factors("chisel plow", "0.28", "1.4", checked=True),
    # From memory, not read in a text:
    "combine": _factors("self-propelled combine", "0.04", "2.1"),
    "rotary-mower": _factors("rotary mower", "0.44", "2.0"),
    "rectangular-baler": _factors("rectangular baler", "0.23", "1.8"),
    "large-round-baler": _factors("large round baler", "0.43", "1.8"),
    "boom-sprayer": _factors("boom sprayer", "0.41", "1.3"),
}


def accumulated_repair(price: Decimal, hours: Decimal, rf1: Decimal, rf2: Decimal) -> Decimal:
    """Return accumulated repair and maintenance cost C_rm = RF1 * P * (h / 1000) ** RF2, unrounded.

    price: list price in current money; hours: accumulated hours of use, not negative. Result in the money of
    `price`. Source: ASAE D497.7 (R2020); the factors' source is told by `RepairFactors.checked`.
    Raises ValueError for negative hours.
    """
    if hours < 0:
        raise ValueError("accumulated hours can't be negative")
    return rf1 * price * (hours / 1000) ** rf2


def expected_between(price: Decimal, start: Decimal, end: Decimal, factors: RepairFactors) -> Decimal:
    """Return what the standard expects between two accumulated hours, to a cent."""
    upto = [accumulated_repair(price, hours, factors.rf1, factors.rf2) for hours in (start, end)]
    return half_up(upto[1] - upto[0])


@dataclass(frozen=True)
class Cost:
    """Parts and labour, each to a cent, and what they lack.

    `unpriced`: parts used without a price, `unrated`: times worked without an hourly rate, `untimed`: orders
    with work done and no time entered.
    """

    parts: Decimal = Decimal("0.00")
    labour: Decimal = Decimal("0.00")
    unpriced: int = 0
    unrated: int = 0
    untimed: int = 0

    @property
    def total(self) -> Decimal:
        """Parts and labour together."""
        return self.parts + self.labour

    @property
    def lacks(self) -> int:
        """How many entries the total knows no amount of."""
        return self.unpriced + self.unrated + self.untimed

    def per_hour(self, hours: Decimal | None) -> Decimal | None:
        """Return the cost of an hour run, to a cent; None when none was run."""
        return half_up(self.total / hours) if hours else None


def cost(
    parts: Iterable[tuple[Decimal, Decimal]], labour: Iterable[tuple[int, Decimal]], *, untimed: int = 0
) -> Cost:
    """Add up (quantity, unit cost) of parts and (minutes, hourly rate) of labour; rounded once, at last.

    A unit cost or rate of 0 was never entered, and is counted as lacking. untimed: as in `Cost`.
    """
    used, worked = list(parts), list(labour)
    return Cost(
        parts=half_up(sum((quantity * price for quantity, price in used), Decimal(0))),
        labour=half_up(sum((minutes * rate for minutes, rate in worked), Decimal(0)) / 60),
        unpriced=sum(not price for _, price in used),
        unrated=sum(not rate for _, rate in worked),
        untimed=untimed,
    )


def add(costs: Iterable[Cost]) -> Cost:
    """Return the sum of costs already rounded, so that a column adds up."""
    together = list(costs)
    return Cost(
        parts=sum((c.parts for c in together), Decimal("0.00")),
        labour=sum((c.labour for c in together), Decimal("0.00")),
        unpriced=sum(c.unpriced for c in together),
        unrated=sum(c.unrated for c in together),
        untimed=sum(c.untimed for c in together),
    )
