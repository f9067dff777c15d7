"""Entering what was done on an order, and closing it."""

from datetime import datetime
from typing import cast

from django.utils import timezone

from fleet.models import Member
from fleet.readings.propagation import expect_differently
from servicing.models import WorkOrder
from servicing.stock import parts
from servicing.workorders import closing_reading, effects, judging
from servicing.workorders.attempt import tried
from servicing.workorders.entries import Entries
from servicing.workorders.errors import NotReady
from servicing.workorders.locking import State, free, move


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
        judged = judging.judge(order=order, entries=entries, today=order.machine.today(now), finished=False)
        if judged.problems:
            raise NotReady(judged.problems)
        judging.keep(order=order, judged=judged, member=member, now=now)
        return move(order)

    return tried(kept, order=order, member=member, revision=revision, entries=entries, now=now)


def close(
    *, order: WorkOrder, member: Member, revision: int, entries: Entries, now: datetime | None = None
) -> WorkOrder:
    """Close a started order, all at once or not at all.

    What was done moves its duty's marks and puts its faults right; what is deferred waits until its day;
    what was referred stays due. What isn't fitted is taken off the machine's fitments, so that no task for
    it falls due again. Parts leave the stock of the machine's yard, which may go below nought: then it was
    counted wrong before. A safety check that fails as left, and any check that fails where the task says so,
    tags the machine out; that and these values are kept even where the closing is refused.

    The meter's figure becomes a reading of the moment the work was finished, which is also when the order
    closes: entries may have waited on a phone for a line, but not since before the order was started.
    A reading that would be held is a problem at `hours` at first; confirmed
    with `hours_confirmed`, it is held for a person and the order closes at the last counted hours.

    Raises NotAllowed; OrderMoved; OrderNotReadyFor; NotReady with every entry that is missing or wrong.
    """
    now = now or timezone.now()

    def closed(order: WorkOrder) -> WorkOrder:
        finished_at = min(max(entries.finished_at or now, cast(datetime, order.started_at)), now)
        today = order.machine.today(finished_at)
        judged = judging.judge(order=order, entries=entries, today=today, finished=True)
        hours = closing_reading.take_hours(order, judged, member, finished_at, now)
        if judged.problems:
            raise NotReady(judged.problems)
        judging.keep(order=order, judged=judged, member=member, now=now)
        parts.take(yard=order.machine.yard, used=judged.parts)
        effects.apply_outcomes([line for line, _ in judged.lines], hours, today, finished_at)
        order.lines.update(open=False)
        expect_differently([order.machine_id])
        move(
            order,
            state=State.CLOSED,
            closed_at=finished_at,
            closed_by=member,
            hours_at_close=hours,
            hold_reason="",
        )
        free(order.machine)
        return order

    return tried(closed, order=order, member=member, revision=revision, entries=entries, now=now)
