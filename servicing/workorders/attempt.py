"""A try at putting entries on an order: all of them or none, but what can hurt somebody is kept."""

from collections.abc import Callable
from datetime import datetime

from django.db import transaction
from django_scopes import scope

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.models import Member
from fleet.readings.propagation import told_together
from servicing.models import WorkOrder
from servicing.workorders import refused_entries
from servicing.workorders.conflicts import differing
from servicing.workorders.entries import Entries
from servicing.workorders.errors import OrderMoved, Undecided
from servicing.workorders.locking import WORK, State, take_up


def tried(
    process: Callable[[WorkOrder], WorkOrder],
    *,
    order: WorkOrder,
    member: Member,
    revision: int,
    entries: Entries,
    now: datetime,
    state: str = State.STARTED,
) -> WorkOrder:
    """Run a process on an order in that state; a refused one is undone, but keeps what nobody may lose.

    Raises Undecided where the entries leave open which of two values stands; OrderMoved then and otherwise
    says where they differ from the record.
    """
    require(member, "work_orders", WORK, order)
    with scope(organisation=member.organisation), transaction.atomic():
        try:
            with transaction.atomic(), told_together():
                taken = take_up(order, revision, state)
                if entries.undecided:
                    raise Undecided(entries.undecided, revision=taken.revision)
                done = process(taken)
        except FleetError as error:
            refused_entries.keep_of(order=order, member=member, entries=entries, error=error, now=now)
            if isinstance(error, OrderMoved):
                error.differing = differing(order, entries)
            refusal = error
        else:
            refused_entries.accepted(order=order, member=member)
            return done
    raise refusal
