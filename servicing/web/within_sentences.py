"""States, outcomes and kinds as words within a sentence, where their labels stand alone with a capital."""

from django.utils.translation import pgettext

from servicing.models import Check, Line, WorkOrder

State, Outcome, Kind = WorkOrder.State, Line.Outcome, Check.Kind


def state(order: WorkOrder) -> str:
    """Return the state of an order: `on hold`."""
    return {
        State.PLANNED: pgettext("state of an order", "planned"),
        State.STARTED: pgettext("state of an order", "started"),
        State.ON_HOLD: pgettext("state of an order", "on hold"),
        State.CLOSED: pgettext("state of an order", "closed"),
        State.CANCELLED: pgettext("state of an order", "cancelled"),
    }[State(order.state)]


def outcomes() -> list[str]:
    """Return what may come of a line: `not fitted`."""
    return [
        pgettext("outcome", "done"),
        pgettext("outcome", "adjusted"),
        pgettext("outcome", "deferred"),
        pgettext("outcome", "referred"),
        pgettext("outcome", "not fitted"),
    ]


def kind(check: str) -> str:
    """Return a kind of check: `function test`."""
    return {
        Kind.MEASURE: pgettext("kind of check", "measure"),
        Kind.TORQUE: pgettext("kind of check", "torque"),
        Kind.SIGHT: pgettext("kind of check", "look"),
        Kind.FUNCTION: pgettext("kind of check", "function test"),
        Kind.LEVEL: pgettext("kind of check", "fluid level"),
    }[Kind(check)]
