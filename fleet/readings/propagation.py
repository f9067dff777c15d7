"""What follows when machines have run, or will run, otherwise than was known: hours, then duties."""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import Exists, F, OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils import timezone

from fleet.core.prepared_queries import prepared, prepared_update
from fleet.models import Attachment, Machine, MeterSegment, Mounting, Reading
from fleet.readings import attachment_hours
from fleet.readings.machine_lookup import Found

when_hours_move: list[Callable[[int, list[int]], None]] = []
"""Called after commit when what machines have run or will run changed: an organisation's id, and theirs."""


@dataclass
class _Gathered:
    """Machines whose hours moved, by organisation, and those expected to run otherwise."""

    moved: dict[int, set[int]] = field(default_factory=lambda: defaultdict(set))
    expected: set[int] = field(default_factory=set)


_gathering: ContextVar[_Gathered | None] = ContextVar("what is told together", default=None)


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
    _tell_on_commit(organisation_id, moved)


def _let_follow(machines: Mapping[int, Machine | Found], now: datetime) -> Collection[int]:
    """Give the instances their machines' figures; let attachments follow, and return the ids of these."""
    follows = False
    for pk, hours, hours_at, attachment, carries in _hours(machines=list(machines)):
        machines[pk].hours, machines[pk].hours_at = hours, hours_at
        machines[pk].projection_wanted_at = now
        follows = follows or carries or attachment is not None
    following = attachment_hours.follow(list(machines), now=now) if follows else {}
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
        output_field=Machine._meta.get_field("hours"),
    )
    hours_at = Subquery(latest.values("taken_at")[:1])
    changes = {"hours": hours, "hours_at": hours_at, "projection_wanted_at": now}
    return Machine.objects.metered().filter(pk__among=machines), changes


@prepared
def _hours(machines: list[int]) -> QuerySet:
    carries = Exists(Mounting.objects.filter(machine=OuterRef("pk")))
    rows = Machine.objects.filter(pk__among=machines).order_by()
    return rows.values_list("pk", "hours", "hours_at", "attachment", carries)


def expect_differently(machine_ids: Iterable[int]) -> None:
    """Have the duties of these machines projected again, and of what is mounted on them.

    Call it in the transaction that changed what is known of them, or what has to be done on them.
    """
    gathered = _gathering.get()
    if gathered is not None:
        gathered.expected.update(machine_ids)
        return
    for organisation_id, ids in _await_projection(machine_ids).items():
        _tell_on_commit(organisation_id, ids)


def _await_projection(machine_ids: Iterable[int]) -> dict[int, Collection[int]]:
    """Note that these machines and what hangs on them wait for it; return their ids by organisation."""
    ids = set(machine_ids)
    ids.update(
        Attachment.objects.filter(mountings__machine__in=ids, mountings__removed_at=None).values_list(
            "pk", flat=True
        )
    )
    machines = Machine.objects.filter(pk__in=ids)
    if not machines.update(projection_wanted_at=timezone.now()):
        return {}
    (organisation_id,) = machines.values_list("organisation_id", flat=True).order_by().distinct()
    return {organisation_id: ids}


@contextmanager
def told_together() -> Iterator[None]:
    """Have all that moves or is expected within asked for once, and told once, after commit.

    Open it inside the transaction.
    """
    gathered = _Gathered()
    before = _gathering.set(gathered)
    try:
        yield
    finally:
        _gathering.reset(before)
    if gathered.expected:
        for organisation_id, ids in _await_projection(gathered.expected).items():
            gathered.moved[organisation_id].update(ids)
    for organisation_id, machine_ids in gathered.moved.items():
        _tell_on_commit(organisation_id, machine_ids)


def _tell_on_commit(organisation_id: int, machine_ids: Collection[int]) -> None:
    gathered = _gathering.get()
    if gathered is not None:
        gathered.moved[organisation_id].update(machine_ids)
        return
    # a failure there is logged and no more: a sweep finds the machines by projection_wanted_at
    transaction.on_commit(lambda: _tell(organisation_id, list(machine_ids)), robust=True)


def _tell(organisation_id: int, machine_ids: list[int]) -> None:
    for told in when_hours_move:
        told(organisation_id, machine_ids)
