"""Entering what was done on an order, and closing it."""

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django_scopes import scope

from fleet.errors import FleetError
from fleet.models import Member, Reading
from fleet.readings import Submitted, take
from servicing import due, parts
from servicing.models import Duty, Line, WorkOrder
from servicing.orders import entries as entered
from servicing.orders import refused
from servicing.orders.entries import Entries, Judged
from servicing.orders.hold import State, free, move, needs, take_up
from servicing.orders.refusals import NotReady


def record(
    *, order: WorkOrder, member: Member, revision: int, entries: Entries, now: datetime | None = None
) -> WorkOrder:
    """Keep what has been entered so far of a started order. Nothing moves: no stock, no mark, no reading.

    But a safety check that fails as it is recorded tags the machine out at once: nobody may use it while the
    order is still open. So it does where the entries are refused for something else.

    Raises NotAllowed; OrderMoved; OrderNotReadyFor; NotReady with every entry that can't be kept.
    """
    now = now or timezone.now()

    def kept(order: WorkOrder) -> WorkOrder:
        judged = entered.judge(order=order, entries=entries, today=order.machine.today(now), finished=False)
        if judged.problems:
            raise NotReady(judged.problems)
        entered.keep(order=order, judged=judged, member=member, now=now)
        return move(order)

    return _tried(kept, order=order, member=member, revision=revision, entries=entries, now=now)


def close(
    *, order: WorkOrder, member: Member, revision: int, entries: Entries, now: datetime | None = None
) -> WorkOrder:
    """Close a started order, all at once or not at all.

    What was done moves its duty's marks and puts its defects right; what was left is put off; what was
    referred stays due. What isn't fitted is taken off the machine's fitments, so that no task for it falls
    due again. Parts leave the stock of the machine's yard, which may go below nought: then it was counted
    wrong before. A safety check that fails as left, and any check that fails where the task says so, tags the
    machine out; that and these values are kept even where the closing is refused.

    The meter's figure becomes a reading of the moment the work was finished, which is also when the order
    closes: entries may have waited on a phone for a line, but not since before the order was started.
    A reading that would be held is a problem at `hours` at first; confirmed
    with `hours_confirmed`, it is held for a person and the order closes at the last counted hours.

    Raises NotAllowed; OrderMoved; OrderNotReadyFor; NotReady with every entry that is missing or wrong.
    """
    now = now or timezone.now()

    def closed(order: WorkOrder) -> WorkOrder:
        finished_at = min(max(entries.finished_at or now, order.started_at), now)
        today = order.machine.today(finished_at)
        judged = entered.judge(order=order, entries=entries, today=today, finished=True)
        hours = _take_hours(order, judged, member, finished_at, now)
        if judged.problems:
            raise NotReady(judged.problems)
        entered.keep(order=order, judged=judged, member=member, now=now)
        parts.take(yard=order.machine.yard, used=judged.parts)
        for line, _ in judged.lines:
            _settle(line, hours, today, finished_at)
        order.lines.update(open=False)
        due.want([order.machine_id])
        move(
            order,
            state=State.CLOSED,
            closed_at=finished_at,
            closed_by=member,
            hours_at_close=hours,
            parked_reason="",
        )
        free(order.machine)
        return order

    return _tried(closed, order=order, member=member, revision=revision, entries=entries, now=now)


def _tried(
    process: Callable[[WorkOrder], WorkOrder],
    *,
    order: WorkOrder,
    member: Member,
    revision: int,
    entries: Entries,
    now: datetime,
) -> WorkOrder:
    """Run a process on a started order; where it is refused, undo it, but keep what nobody may lose."""
    needs(member, "work_orders", order.organisation_id)
    with scope(organisation=member.organisation), transaction.atomic():
        try:
            with transaction.atomic():
                done = process(take_up(order, revision, State.STARTED))
        except FleetError as error:
            refused.keep_of(order=order, member=member, entries=entries, error=error, now=now)
            refusal = error
        else:
            refused.accepted(order=order, member=member)
            return done
    raise refusal


def _take_hours(
    order: WorkOrder, judged: Judged, member: Member, finished_at: datetime, now: datetime
) -> Decimal:
    """Let the meter's figure in as a reading; what is wrong with it joins the problems.

    Returns the machine's hours when the work was finished: the reading's if it counts, else the last known.
    """
    if judged.entries.hours is None:
        return order.machine.hours
    receipt = take(
        organisation=order.machine.yard.organisation,
        rows=[Submitted(machine=order.machine_id, taken_at=finished_at, shows=judged.entries.hours)],
        source=Reading.Source.ORDER,
        sender=f"order {order.number}",
        member=member,
        now=now,
    )[0]
    order.machine.refresh_from_db(fields=["hours", "hours_at", "projection_wanted_at"])
    if receipt.state == "refused":
        judged.wrong(receipt.reason, "hours")
    elif receipt.state == "held" and not judged.entries.hours_confirmed:
        judged.wrong(
            f"{receipt.reason} Read the meter again; if it does show this, confirm it below.", "hours"
        )
    reading = receipt.reading
    return reading.hours if reading and reading.state == Reading.State.COUNTED else order.machine.hours


def _settle(line: Line, hours: Decimal, today: date, finished_at: datetime) -> None:
    """Let what came of a line take effect on its duty and its defects. hours: those of the order's machine.

    An attachment's work is done at its own hours, which have followed those just taken of its host.
    """
    machine = line.machine
    if machine.pk != line.order.machine_id:
        machine.refresh_from_db(fields=["hours"])
        hours = machine.hours
    if line.outcome in Line.MEETS_THE_MARK:
        line.done_hours, line.done_on = hours, today
        line.save(update_fields=["done_hours", "done_on"])
        line.defects.filter(fixed_at=None).update(fixed_at=finished_at)
        if line.duty:
            due.meet(duty=line.duty, hours=hours, on=today)
    elif line.duty and line.put_off_until and line.outcome == Line.Outcome.LEFT:
        due.put_off(duty=line.duty, until=line.put_off_until, reason=line.reason)
    elif line.duty and line.task and line.outcome == Line.Outcome.NOT_FITTED:
        Duty.objects.filter(pk=line.duty.pk).update(active=False)
        machine.fitments.remove(*line.task.needs.all())
        due.want([machine.pk])
