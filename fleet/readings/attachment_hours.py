"""The hours of attachments: what they had run before, and what their hosts ran while they were mounted.

A host's hours at a moment lie on the straight line between its counted readings, so an attachment swapped
between two readings shares the hours between them with the next one by the time each hung there.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple

from django.db.models import F, OuterRef, Q, QuerySet

from fleet.models import Attachment, Machine, Mounting, Reading
from fleet.readings.submission import HUNDREDTH

EDGES = ("mounted_at", "removed_at")
FIGURES = ["hours", "hours_at", "projection_wanted_at"]


class HostHours(NamedTuple):
    """A moment, and a host's total hours at it."""

    at: datetime
    hours: Decimal


class Point(NamedTuple):
    """What an attachment had run in all at a moment, during the mounting with this id."""

    attachment: int
    at: datetime
    hours: Decimal
    mounting: int


def follow(machine_ids: Collection[int], *, now: datetime) -> dict[int, Machine]:
    """Work out again the hours of these attachments, and of all that were ever mounted on these machines.

    Call it in the transaction that changed a mounting or what is counted of the machines, these locked and
    their hours set. Returns the attachments by id, each with its new figures alone. Asks a constant number of
    queries; needs the organisation's scope.
    """
    hung = Mounting.objects.filter(machine__among=machine_ids).values("attachment")
    moving = Attachment.objects.filter(Q(pk__among=machine_ids) | Q(pk__in=hung)).order_by("pk")
    # hosts are locked before what hangs on them, everywhere
    locked = moving.select_for_update(of=("self", "machine_ptr"))
    ran: dict[int, Decimal] = dict(locked.values_list("pk", "hours_before"))
    if not ran:
        return {}
    known: dict[int, datetime] = {}
    changed = []
    for mounting in _placed(Mounting.objects.filter(attachment__in=list(ran)).select_related("machine")):
        pk, host = mounting.attachment_id, mounting.machine
        ran[pk] += max(host.hours if mounting.hours_off is None else mounting.hours_off, mounting.hours_on)
        ran[pk] -= mounting.hours_on
        until = min(filter(None, (mounting.removed_at, host.hours_at)), default=mounting.mounted_at)
        known[pk] = max(until, mounting.mounted_at, known.get(pk, until))
        changed.append(mounting)
    Mounting.objects.bulk_update(changed, ["hours_on", "hours_off"])
    moved = {
        pk: Machine(pk=pk, hours=hours, hours_at=known.get(pk), projection_wanted_at=now)
        for pk, hours in ran.items()
    }
    Machine.objects.bulk_update(moved.values(), FIGURES)
    return moved


def histories(attachment_ids: Collection[int], *, until: datetime) -> list[Point]:
    """Return the courses of attachments: their hosts' counted readings while mounted, and where these begin
    and end.

    Ordered by attachment and moment. Asks two queries, however many attachments; needs the organisation's
    scope.
    """
    mountings = list(
        Mounting.objects.filter(attachment__in=attachment_ids, mounted_at__lte=until)
        .annotate(before=F("attachment__hours_before"))
        .order_by("attachment", "mounted_at", "pk")
    )
    read = _readings(mountings, until)
    points: list[Point] = []
    ran: dict[int, Decimal] = {}
    for mounting in mountings:
        pk = mounting.attachment_id
        begun = ran.setdefault(pk, mounting.before) - mounting.hours_on
        for at, hours in _course(mounting, read[mounting.machine_id], until):
            ran[pk] = begun + max(hours, mounting.hours_on)
            points.append(Point(pk, at, ran[pk], mounting.pk))
    return points


def _course(mounting: Mounting, read: Iterable[HostHours], until: datetime) -> Iterable[HostHours]:
    """The host's hours from the mounting's beginning to its end, or to `until` while it lasts."""
    begun, ended = mounting.mounted_at, mounting.removed_at
    yield HostHours(begun, mounting.hours_on)
    yield from (known for known in read if begun < known.at <= until and not (ended and known.at >= ended))
    if ended and ended <= until and mounting.hours_off is not None:
        yield HostHours(ended, mounting.hours_off)


def _readings(mountings: Collection[Mounting], until: datetime) -> Mapping[int, list[HostHours]]:
    """What was counted of the hosts since the first mounting, by machine, in time order."""
    read: dict[int, list[HostHours]] = defaultdict(list)
    if mountings:
        since = min(mounting.mounted_at for mounting in mountings)
        hosts = {mounting.machine_id for mounting in mountings}
        rows = Reading.objects.counted().filter(machine__in=hosts, taken_at__range=(since, until))
        for machine, at, hours in rows.order_by("taken_at", "pk").values_list("machine", "taken_at", "hours"):
            read[machine].append(HostHours(at, hours))
    return read


def _placed(mountings: QuerySet[Mounting]) -> Iterable[Mounting]:
    """The mountings with `hours_on` and `hours_off` as their hosts' readings have it now; two queries."""
    counted = Reading.history(machine=OuterRef("machine"))
    for edge in EDGES:
        mountings = mountings.annotate(**counted.ids_around(OuterRef(edge), edge))
    rows = list(mountings)
    sides = [(f"by_{edge}", f"after_{edge}") for edge in EDGES]
    wanted = {getattr(row, name) for row in rows for pair in sides for name in pair} - {None}
    near = {
        pk: HostHours(at, hours)
        for pk, at, hours in Reading.objects.filter(pk__in=wanted).values_list("pk", "taken_at", "hours")
    }
    for row in rows:
        on, off = (
            _between(near.get(getattr(row, before)), near.get(getattr(row, after)), getattr(row, edge))
            for edge, (before, after) in zip(EDGES, sides, strict=True)
        )
        row.hours_on = row.machine.hours if on is None else on
        if row.removed_at is not None:
            row.hours_off = max(row.hours_on, row.machine.hours if off is None else off)
    return rows


def _between(before: HostHours | None, after: HostHours | None, at: datetime | None) -> Decimal | None:
    """Hours at a moment, on the straight line between the readings around it; None without any.

    Before the first reading that one's hours, after the last the last one's: nothing more is known.
    """
    if at is None or before is None or after is None:
        nearest = before or after
        return nearest.hours if nearest else None
    share = Decimal((at - before.at) / (after.at - before.at))
    return (before.hours + (after.hours - before.hours) * share).quantize(HUNDREDTH)
