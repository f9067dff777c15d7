"""What becomes of a duty once its work was done, or was deferred."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.readings.propagation import expect_differently
from servicing.duties.applicability import rule_for
from servicing.models import Duty
from servicing.planning.intervals import Mark, next_mark

MOVED = (
    "active",
    *("mark_hours", "mark_on", "last_hours", "last_on", "met_hours", "met_on", "unknown_on"),
    *("forward_hours", "forward_check", "forward_reason", "rule_hours", "deferred_until", "deferred_reason"),
    *("early", "likely", "late"),
)


@dataclass(frozen=True)
class Done:
    """A duty's work, done at `hours` total hours of its machine on the yard's day `on`."""

    duty: Duty
    hours: Decimal
    on: date


def complete_duty(*, duty: Duty, hours: Decimal, on: date) -> Duty:
    """The duty's work was done at `hours` total hours on the yard's day `on`: move its mark; return it.

    The next mark is counted from the rule's own, not from one that a drifting value had brought forward. A
    once-only task is finished. The projected days are emptied until the refresh that this asks for.
    """
    (met,) = complete_duties([Done(duty, hours, on)])
    return met


@transaction.atomic
def complete_duties(done: Sequence[Done]) -> list[Duty]:
    """Move the marks of all these duties, as `complete_duty` does; asks a constant number of queries."""
    if not done:
        return []
    duties = (
        Duty.objects.select_for_update(of=("self",))
        .select_related("machine", "task__version")
        .prefetch_related("task__intervals", "machine__overrides")
        .order_by("pk")
        .in_bulk([each.duty.pk for each in done])
    )
    for each in done:
        _complete(duties[each.duty.pk], each.hours, each.on)
    Duty.objects.bulk_update(duties.values(), MOVED)
    expect_differently({duty.machine_id for duty in duties.values()})
    return list(duties.values())


def _complete(duty: Duty, hours: Decimal, on: date) -> None:
    duty.met_hours = duty.mark_hours if duty.forward_hours is None else duty.rule_hours
    duty.met_on = duty.mark_on
    duty.last_hours, duty.last_on, duty.unknown_on = hours, on, None
    rule = rule_for(duty.task, duty.machine) if duty.active else None
    mark = next_mark(rule, Mark(duty.met_hours, duty.met_on), hours, on) if rule else None
    duty.active = mark is not None
    duty.mark_hours, duty.mark_on = (mark.hours, mark.on) if mark else (None, None)
    duty.forward_hours = duty.forward_check = duty.rule_hours = None
    duty.forward_reason = ""
    duty.early = duty.likely = duty.late = None
    duty.deferred_until, duty.deferred_reason = None, ""


@transaction.atomic
def defer_duty(*, duty: Duty, until: date, reason: str, on: date | None = None) -> Duty:
    """Defer a duty to a later day, saying why. Its mark stays: what is overdue is still shown so.

    on: the yard's day on which that was decided, today when left out.
    """
    held = Duty.objects.select_for_update(of=("self",)).select_related("machine__yard__organisation")
    duty = held.get(pk=duty.pk)
    if not reason.strip():
        raise FleetError(_("Say why it is deferred."), field="reason")
    if until <= (on or duty.machine.today()):
        raise FleetError(_("Choose a day after today."), field="deferred_until")
    duty.deferred_until, duty.deferred_reason = until, reason.strip()
    duty.save(update_fields=["deferred_until", "deferred_reason"])
    return duty
