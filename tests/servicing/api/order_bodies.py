"""What is sent to an order's routes, and the state it is in after."""

from datetime import UTC, datetime

from servicing.models import WorkOrder

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
URL = "/api/v1/orders"


def closing(farm, order, found="7.5", **more):
    """What closes an order of one line with one check."""
    with farm.scope():
        line = order.lines.get()
        check = line.task.checks.get().pk
    return {
        "revision": order.revision,
        "hours": "1004.5",
        "lines": [{"line": line.pk, "outcome": "done", "checks": [{"check": check, "found": found, **more}]}],
    }


def state(farm, order):
    """The state an order is in now."""
    with farm.scope():
        return WorkOrder.objects.get(pk=order.pk).state
