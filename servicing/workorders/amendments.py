"""Putting a closed order right: the first version stays, marks, stock and cost follow."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import cast

from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError, NotAllowed
from fleet.models import Member
from fleet.readings.propagation import expect_differently
from servicing.models import Amendment, Part, WorkOrder
from servicing.stock import parts
from servicing.workorders import closing_reading, effects, judging, order_version
from servicing.workorders.attempt import tried
from servicing.workorders.entries import Entries
from servicing.workorders.errors import NotReady
from servicing.workorders.locking import State, move
from servicing.workorders.order_version import Difference

OWN_FOR = timedelta(hours=48)


@dataclass(frozen=True)
class Correction:
    """One correction as it is shown: who made it, when and why, and what it changed."""

    amendment: Amendment
    changes: list[Difference]


def may_amend(order: WorkOrder, member: Member, now: datetime | None = None) -> bool:
    """Whether the member may correct this order: who plans orders may, and for 48 hours who closed it."""
    if order.state != State.CLOSED or member.organisation_id != order.organisation_id:
        return False
    if member.rights.plan_orders:
        return True
    own = (
        order.closed_by_id == member.pk
        and (now or timezone.now()) - cast(datetime, order.closed_at) <= OWN_FOR
    )
    return own and member.rights.work_orders


def amend(
    *,
    order: WorkOrder,
    member: Member,
    revision: int,
    entries: Entries,
    reason: str,
    now: datetime | None = None,
) -> WorkOrder:
    """Put what a closed order says right, all at once or not at all; what it said before is kept.

    `entries` are judged as when closing, as of the day it was closed; `hours` is what the meter showed then,
    None where that stays. The reading is corrected by a new one, the duties' marks follow what was really
    done, and so do the orders of the same tasks closed since; stock gets or gives the difference. Parts and
    minutes keep the prices of that day. A safety check that fails tags the machine out; one that turns out to
    have passed clears nothing: that takes the re-test.

    Raises NotAllowed; OrderMoved; OrderNotReadyFor when it isn't closed; NotReady with every entry that is
    missing or wrong, the reason among them; FleetError on `reason` when nothing would change.
    """
    now = now or timezone.now()

    def amended(order: WorkOrder) -> WorkOrder:
        if not may_amend(order, member, now):
            raise NotAllowed(
                _("Only someone who plans orders can correct it now: whoever closed it had 48 hours.")
            )
        before, used = order_version.of(order), _used(order)
        outcomes = dict(order.lines.values_list("pk", "outcome"))
        today = order.machine.today(order.closed_at)
        judged = judging.judge(order=order, entries=entries, today=today, finished=True, hours_asked=False)
        if not reason.strip():
            judged.wrong(_("Say what was wrong."), "reason")
        hours = closing_reading.correct_hours(order, judged, member, reason.strip(), now)
        if judged.problems:
            raise NotReady(judged.problems)
        judging.keep(order=order, judged=judged, member=member, now=now)
        parts.take(yard=order.machine.yard, used=_more(used, judged.parts))
        for line, _entry in judged.lines:
            effects.reapply_outcome(line, outcomes[line.pk], hours, today, cast(datetime, order.closed_at))
        expect_differently([order.machine_id])
        move(order, hours_at_close=hours)
        if before == order_version.of(order):
            raise FleetError(_("Nothing has changed: correct what is wrong first."), field="reason")
        Amendment.objects.create(
            organisation_id=order.organisation_id,
            order=order,
            made_by=member,
            made_at=now,
            reason=reason.strip(),
            before=before,
        )
        return order

    return tried(
        amended,
        order=order,
        member=member,
        revision=revision,
        entries=entries,
        now=now,
        state=State.CLOSED,
    )


def corrections(order: WorkOrder) -> list[Correction]:
    """Return an order's corrections with what each changed, the earliest first."""
    made: Sequence[Amendment] = list(order.amendments.select_related("made_by__user"))
    if not made:
        return []
    versions = [*(each.before for each in made), order_version.of(order)]
    return [
        Correction(each, order_version.differences(versions[n], versions[n + 1]))
        for n, each in enumerate(made)
    ]


def _used(order: WorkOrder) -> dict[Part, Decimal]:
    return {use.part: use.quantity for use in order.parts.select_related("part")}


def _more(before: dict[Part, Decimal], now: dict[Part, Decimal]) -> dict[Part, Decimal]:
    """What was used more than had been said, by part; below nought for what goes back into the stock."""
    more: dict[Part, Decimal] = defaultdict(Decimal)
    for used, sign in ((now, 1), (before, -1)):
        for part, quantity in used.items():
            more[part] += sign * quantity
    return {part: quantity for part, quantity in more.items() if quantity}
