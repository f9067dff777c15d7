"""What to buy for the coming days: by every duty's chance to fall due, beside stock and reserved parts."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.utils import timezone

from servicing.ledger.demand import Need, Shortage, Wanted, chances, cover, to_buy, wanted
from servicing.models import Part
from servicing.stock import parts
from servicing.stock.coming_uses import coming_uses
from servicing.stock.parts import PartStock

WHOLE = "pc"


@dataclass(frozen=True)
class PurchaseLine:
    """One part: what the days ahead ask for, what there is, what stands in, what is left to buy.

    `wanted` is beyond what open orders have reserved. `expected`: what is missing on average, as exact as the
    average is; `enough`: what to buy for nine cases of ten, in whole pieces; both after stock, reserved parts
    and equivalents. Where much is seldom asked for, the average may lie above nine cases of ten.
    """

    stock: PartStock
    wanted: Wanted
    expected: Decimal
    enough: Decimal
    stand_ins: tuple[tuple[Part, Decimal], ...]

    @property
    def part(self) -> Part:
        """The part itself."""
        return self.stock.part

    @property
    def cost(self) -> Decimal:
        """What enough for nine cases of ten costs, at today's cost of the part."""
        return self.enough * self.part.unit_cost


def purchase_list(*, days: int, now: datetime | None = None) -> list[PurchaseLine]:
    """Return every part that is asked for within so many days or reserved, in the parts' order.

    What is on an open order already counts as reserved, not as likely; only its repeats count as likely.
    Needs the organisation's scope. Asks a constant number of queries.
    """
    now = now or timezone.now()
    needs = _needs(days, now)
    every = {row.part.pk: row for row in parts.stocktaking(Part.objects.all())}
    rows = [row for pk, row in every.items() if pk in needs or row.reserved]
    likely = {row.part.pk: wanted(needs.get(row.part.pk, ())) for row in rows}
    on_average = _covered(every, {pk: found.expected for pk, found in likely.items()})
    nearly_sure = _covered(every, {pk: found.enough for pk, found in likely.items()})
    return [
        PurchaseLine(
            stock=row,
            wanted=likely[row.part.pk],
            expected=on_average[row.part.pk].left if row.part.pk in on_average else Decimal(0),
            enough=_to_buy(row.part, nearly_sure),
            stand_ins=tuple(
                (every[pk].part, quantity)
                for pk, quantity in (
                    nearly_sure[row.part.pk].stand_ins.items() if row.part.pk in nearly_sure else ()
                )
            ),
        )
        for row in rows
    ]


def _covered(every: Mapping[int, PartStock], asked: Mapping[int, Decimal]) -> dict[int, Shortage]:
    """What is missing of each part for so much use, and what free equivalents cover of it."""
    beyond = {pk: row.free - asked.get(pk, Decimal(0)) for pk, row in every.items()}
    return cover(
        missing={pk: -left for pk, left in beyond.items() if left < 0},
        free={pk: left for pk, left in beyond.items() if left > 0},
        equivalents={pk: [each.pk for each in row.part.equivalents.all()] for pk, row in every.items()},
    )


def _to_buy(part: Part, covered: Mapping[int, Shortage]) -> Decimal:
    if part.pk not in covered:
        return Decimal(0)
    return to_buy(covered[part.pk].left, Decimal(0), Decimal(0), whole=part.unit == WHOLE)


def _needs(days: int, now: datetime) -> dict[int, list[Need]]:
    """Every amount that a duty may ask for within so many days, with its chance, by part id."""
    found: dict[int, list[Need]] = defaultdict(list)
    for need, coming, ordered in coming_uses(days=days, now=now):
        times = chances(coming, days)
        found[need.part_id].extend(Need(chance, need.quantity) for chance in times[ordered:])
    return found
