"""What one work order cost, and what that figure lacks."""

from collections.abc import Iterable

from servicing.ledger.costs import Cost, cost
from servicing.models import Labour, Line, PartUsed, WorkOrder


def cost_of(
    order: WorkOrder, *, lines: Iterable[Line], parts: Iterable[PartUsed], labour: Iterable[Labour]
) -> Cost:
    """Return the cost of an order's parts and labour, these given.

    A closed order with work done and no time entered lacks that time.
    """
    used = [(use.quantity, use.unit_cost) for use in parts]
    spent = [(row.minutes, row.hourly_rate) for row in labour]
    worked = any(line.outcome in Line.MEETS_THE_MARK for line in lines)
    untimed = order.state == WorkOrder.State.CLOSED and worked and not spent
    return cost(used, spent, untimed=int(untimed))
