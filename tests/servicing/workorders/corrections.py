"""Closed orders put right."""

from servicing import workorders
from tests.servicing.workorders.work import NOW, close, entries

CLOSED = NOW


def close_with(farm, order, **entered):
    """Close an order with the same entries for every line."""
    return close(farm, order, entries(order, **entered))


def amend(order, member, *, why="Typed it wrong.", hours=None, entered=None, **kwargs):
    """Correct an order as this member."""
    return workorders.amend(
        order=order,
        member=member,
        revision=order.revision,
        entries=entered or entries(order, hours=hours, **kwargs),
        reason=why,
    )


def changed(order):
    """What each correction changed: what, what it was, what it is now."""
    return [
        {(each.what, each.was, each.now) for each in one.changes} for one in workorders.corrections(order)
    ]
