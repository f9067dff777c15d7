"""Parts and what lies of them in each yard: added, changed, counted, used, and promised to open orders."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TypedDict, Unpack

from django.db import IntegrityError, transaction
from django.db.models import F, QuerySet, Sum
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError, NotAllowed
from fleet.core.permission import require
from fleet.models import Member, Yard
from servicing.ledger.demand import Shortage, cover
from servicing.models import Part, Stock, SupplyNeed

NONE = Decimal(0)
UNITS = ("pc", "L", "mL", "kg", "g", "m")
"""What parts are counted in, as the programs write it; others stay as they were entered."""


class PartFacts(TypedDict):
    """What is known of a part; `number` is its maker's."""

    number: str
    name: str
    grade: str
    unit: str
    unit_cost: Decimal
    equivalents: Collection[Part]


def add(*, member: Member, **facts: Unpack[PartFacts]) -> Part:
    """Add a part; return it. Raises NotAllowed; FleetError on the field that is wrong."""
    return _save(Part(organisation_id=member.organisation_id), member, facts)


def change(*, part: Part, member: Member, **facts: Unpack[PartFacts]) -> Part:
    """Change what is known of a part. What orders used keeps the cost it had then.

    The unit stays once a program asks for the part or an order used it: the quantities there are in it.
    Raises NotAllowed; FleetError on the field that is wrong.
    """
    rows = (part.needs, part.uses, part.stocks)
    if facts["unit"].strip() != part.unit and any(each.exists() for each in rows):
        counted = _("It is counted in {unit} already; add another part instead.")
        raise FleetError(counted.format(unit=part.unit), field="unit")
    return _save(part, member, facts)


@transaction.atomic
def count(*, part: Part, yard: Yard, member: Member, quantity: Decimal, reorder_point: Decimal) -> Stock:
    """Write down what was counted in a yard, and when to order more; return the row.

    Raises NotAllowed; FleetError on `quantity` or `reorder_point` below nought.
    """
    require(member, "plan_orders", _("change parts"), part)
    if yard.organisation_id != part.organisation_id:
        raise NotAllowed(_("Choose one of the organisation's yards."))
    if quantity < 0:
        raise FleetError(_("Enter how many are there, 0 if none."), field="quantity")
    if reorder_point < 0:
        raise FleetError(_("Enter 0 or more."), field="reorder_point")
    return Stock.objects.update_or_create(
        part=part,
        yard=yard,
        defaults={"quantity": quantity, "reorder_point": reorder_point},
        create_defaults={
            "organisation_id": part.organisation_id,
            "quantity": quantity,
            "reorder_point": reorder_point,
        },
    )[0]


def take(*, yard: Yard, used: Mapping[Part, Decimal]) -> None:
    """Take what an order used out of a yard's stock, in the caller's transaction; it may go below nought."""
    for part in sorted(used, key=lambda each: each.pk):  # always in this order, so that no two orders cross
        held = Stock.objects.get_or_create(
            part=part, yard=yard, defaults={"organisation_id": part.organisation_id}
        )[0]
        Stock.objects.filter(pk=held.pk).update(quantity=F("quantity") - used[part])


def reserved() -> dict[tuple[int, int], Decimal]:
    """What the tasks on open orders ask for, by part id and yard id: the yard of the order's machine."""
    rows = (
        SupplyNeed.objects.filter(task__lines__open=True)
        .values_list("part_id", "task__lines__order__machine__yard_id")
        .annotate(asked=Sum("quantity"))
    )
    return {(part, yard): asked for part, yard, asked in rows}


@dataclass(frozen=True)
class YardStock:
    """One part in one yard: what lies there, what open orders ask for, when to order more."""

    yard: Yard
    quantity: Decimal = NONE
    reserved: Decimal = NONE
    reorder_point: Decimal = NONE

    @property
    def free(self) -> Decimal:
        """What no open order asks for; below nought where the orders ask for more than there is."""
        return self.quantity - self.reserved

    @property
    def short(self) -> Decimal:
        """How much is missing to serve the open orders and stand above the reorder point."""
        if self.free < 0 or (self.reorder_point > 0 and self.free <= self.reorder_point):
            return max(self.reorder_point - self.free, Decimal(0))
        return NONE

    @property
    def to_reorder(self) -> bool:
        """Whether it is at or below its reorder point, or short for an order."""
        return self.free < 0 or (self.reorder_point > 0 and self.free <= self.reorder_point)


@dataclass(frozen=True)
class PartStock:
    """A part with what lies of it in every yard."""

    part: Part
    yards: tuple[YardStock, ...]

    @property
    def quantity(self) -> Decimal:
        """In all yards together."""
        return sum((row.quantity for row in self.yards), NONE)

    @property
    def reserved(self) -> Decimal:
        """Promised to open orders in all yards together."""
        return sum((row.reserved for row in self.yards), NONE)

    @property
    def free(self) -> Decimal:
        """What no open order asks for, in all yards together."""
        return self.quantity - self.reserved

    @property
    def to_reorder(self) -> bool:
        """Whether it is short in one yard or more."""
        return any(row.to_reorder for row in self.yards)


def stocktaking(parts: "QuerySet[Part]") -> list[PartStock]:
    """The parts with their stock in every yard; asks five queries, however many parts there are."""
    yards = list(Yard.objects.all())
    asked = reserved()
    return [
        PartStock(part, tuple(_yard_rows(part, yards, asked)))
        for part in parts.prefetch_related("stocks", "equivalents")
    ]


def covered(rows: Iterable[PartStock]) -> dict[int, Shortage]:
    """For every part short of what open orders ask for, in all yards together: what its equivalents cover."""
    listed = list(rows)
    return cover(
        missing={row.part.pk: -row.free for row in listed if row.free < 0},
        free={row.part.pk: row.free for row in listed if row.free > 0},
        equivalents={row.part.pk: [each.pk for each in row.part.equivalents.all()] for row in listed},
    )


def _yard_rows(
    part: Part, yards: Iterable[Yard], asked: Mapping[tuple[int, int], Decimal]
) -> Iterable[YardStock]:
    held: dict[int, Stock] = defaultdict(Stock) | {stock.yard_id: stock for stock in part.stocks.all()}
    for yard in yards:
        stock, promised = held.get(yard.pk), asked.get((part.pk, yard.pk), NONE)
        if stock:
            yield YardStock(yard, stock.quantity, promised, stock.reorder_point)
        else:
            yield YardStock(yard, reserved=promised)


def _save(part: Part, member: Member, facts: PartFacts) -> Part:
    require(member, "plan_orders", _("change parts"), part)
    part.number, part.name, part.unit = facts["number"].strip(), facts["name"].strip(), facts["unit"].strip()
    part.grade, part.unit_cost = facts["grade"].strip(), facts["unit_cost"]
    equivalents = facts["equivalents"]
    for field in ("number", "name", "unit"):
        if not getattr(part, field):
            raise FleetError(_("Fill this in."), field=field)
    if part.unit_cost < 0:
        raise FleetError(_("Enter 0 or more."), field="unit_cost")
    if any(each.organisation_id != part.organisation_id for each in equivalents):
        raise FleetError(_("Choose only parts of the organisation."), field="equivalents")
    if any(each.unit != part.unit for each in equivalents):
        counted = _("Choose only parts counted in {unit}.")
        raise FleetError(counted.format(unit=part.unit), field="equivalents")
    try:
        with transaction.atomic():
            part.save()
            part.equivalents.set(each for each in equivalents if each.pk != part.pk)
    except IntegrityError:
        taken = _("There is already a part {number}.").format(number=part.number)
        raise FleetError(taken, field="number") from None
    return part
