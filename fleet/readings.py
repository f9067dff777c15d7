"""The one door through which every hour reading comes in. What people decide about it: `decisions`."""

from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Exists, F, OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils import timezone
from django_scopes import scope

from fleet import mounted
from fleet.batch import Batch
from fleet.found import Found
from fleet.models import (
    ApiToken,
    Attachment,
    Machine,
    Member,
    MeterSegment,
    Mounting,
    Organisation,
    Reading,
)
from fleet.models.fields import HoursField
from fleet.prepared import prepared, prepared_update
from fleet.settling import settle_late
from fleet.submitted import Receipt, Submitted

__all__ = ["Receipt", "Submitted", "expect_differently", "hours_moved", "take", "when_hours_move"]

when_hours_move: list[Callable[[int, list[int]], None]] = []
"""Called after commit when what machines have run or will run changed: an organisation's id, and theirs."""

TRIES = 3  # two senders may use one client id at the same moment; the next try then sees the other's row


def take(
    *,
    organisation: Organisation,
    rows: Sequence[Submitted],
    source: str,
    sender: str,
    member: Member | None = None,
    token: ApiToken | None = None,
    now: datetime | None = None,
) -> list[Receipt]:
    """Take in readings, one or thousands; return a receipt for each, in the order of `rows`.

    A row that can't be read or whose machine is unknown is refused, an implausible one is kept as held, and
    neither harms the others. A row is a duplicate when this sender has sent its client id before, or when the
    machine has a reading of that moment and figure. Rows are judged in time order, each against the counted
    readings around it on the same meter, those of the same batch included. The number of queries doesn't grow
    with the number of rows.

    source: one of Reading.Source. sender: who sent it, up to 80 characters; client ids are the sender's own.
    """
    now = now or timezone.now()
    for left in reversed(range(TRIES)):
        batch = Batch(organisation, source, sender, member, token, now)
        try:
            with scope(organisation=organisation), transaction.atomic():
                receipts = batch.take(rows)
                settle_late(
                    batch.moved, since=batch.earliest, between=batch.between, held=batch.held, now=now
                )
                hours_moved(batch.moved, now=now)
                return receipts
        except IntegrityError:
            if not left:
                raise
    raise AssertionError("the last try returns or raises")


def hours_moved(machines: Mapping[int, Machine | Found], *, now: datetime) -> None:
    """Set these machines' hours from their latest counted reading and have their duties projected.

    The hours of attachments among them, and of those that hang or hung on them, follow. Call it in the
    transaction that changed what is counted. The instances given get the new figures.
    """
    if not machines:
        return
    _set_hours(machines=list(machines), now=now)
    moved = [*machines, *_let_follow(machines, now)]
    (organisation_id,) = {machine.organisation_id for machine in machines.values()}
    # a failure there is logged and no more: a sweep finds the machines by projection_wanted_at
    transaction.on_commit(lambda: _tell(organisation_id, moved), robust=True)


def _let_follow(machines: Mapping[int, Machine | Found], now: datetime) -> Collection[int]:
    """Give the instances their machines' figures; let attachments follow, and return the ids of these."""
    follows = False
    for pk, hours, hours_at, attachment, carries in _hours(machines=list(machines)):
        machines[pk].hours, machines[pk].hours_at = hours, hours_at
        machines[pk].projection_wanted_at = now
        follows = follows or carries or attachment is not None
    following = mounted.follow(list(machines), now=now) if follows else {}
    for pk in following.keys() & machines.keys():
        machines[pk].hours, machines[pk].hours_at = following[pk].hours, following[pk].hours_at
    return following.keys() - machines.keys()


@prepared_update
def _set_hours(machines: list[int], now: datetime) -> tuple[QuerySet, dict[str, Any]]:
    latest = Reading.objects.counted().filter(machine=OuterRef("pk")).latest_first()
    meter = MeterSegment.objects.filter(machine=OuterRef("pk")).order_by("-started_at", "-pk")
    hours = Coalesce(
        Subquery(latest.values("hours")[:1]),
        Subquery(meter.values(total=F("shows_at_start") + F("offset"))[:1]),
        Value(Decimal(0)),
        output_field=HoursField(),
    )
    hours_at = Subquery(latest.values("taken_at")[:1])
    changes = {"hours": hours, "hours_at": hours_at, "projection_wanted_at": now}
    return Machine.objects.metered().filter(pk__among=machines), changes


@prepared
def _hours(machines: list[int]) -> QuerySet:
    carries = Exists(Mounting.objects.filter(machine=OuterRef("pk")))
    rows = Machine.objects.filter(pk__among=machines).order_by()
    return rows.values_list("pk", "hours", "hours_at", "attachment", carries)


def expect_differently(machine_ids: Collection[int]) -> None:
    """Have the duties of these machines projected anew, and of what hangs on them: their days ahead changed.

    Call it in the transaction that changed them.
    """
    hung = Attachment.objects.filter(mountings__machine__in=machine_ids, mountings__removed_at=None)
    ids = [*machine_ids, *hung.values_list("pk", flat=True)]
    machines = Machine.objects.filter(pk__in=ids)
    if machines.update(projection_wanted_at=timezone.now()):
        (organisation_id,) = machines.values_list("organisation_id", flat=True).order_by().distinct()
        transaction.on_commit(lambda: _tell(organisation_id, ids), robust=True)


def _tell(organisation_id: int, machine_ids: list[int]) -> None:
    for told in when_hours_move:
        told(organisation_id, machine_ids)
