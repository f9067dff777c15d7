"""What the pages of an order show and send."""

from datetime import UTC, date, datetime
from decimal import Decimal

from servicing.models import WorkOrder
from tests.factories import DutyFactory

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
TODAY = date(2026, 5, 4)


def now(farm, order):
    """The order as it is now."""
    with farm.scope():
        return WorkOrder.objects.get(pk=order.pk)


def due(machine, title, likely, **kwargs):
    """A duty that falls due on a day, its hours far ahead."""
    days = {"early": likely, "likely": likely, "late": likely, "mark_hours": Decimal(5000)}
    return DutyFactory(machine=machine, task__title=title, **(days | kwargs))


def names(farm, order, duty=None):
    """The names of the closing form's fields for a duty's line, or the order's one, and its one check."""
    with farm.scope():
        line = order.lines.get(duty=duty) if duty else order.lines.get()
        return f"lines-{line.pk}", f"lines-{line.pk}-checks-{line.task.checks.get().pk}"


def filled_in(farm, order, found="7.5", unit="mm", outcome="done", hours="1004.5", **more):
    """What the closing form sends with its one line and one check filled in."""
    line, check = names(farm, order)
    return {
        "revision": order.revision,
        f"{line}-outcome": outcome,
        f"{check}-found": found,
        f"{check}-found_unit": unit,
        f"{check}-left_unit": unit,
        "hours": hours,
        **more,
    }
