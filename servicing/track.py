"""Our own track record: projections are kept, settled when their mark is reached, and learned from."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise

import numpy as np
from django.utils import timezone

from fleet.models import Machine, Organisation, Reading
from fleet.models.machine import Category
from fleet.usage import calibration
from fleet.usage.crossing import Crossing
from servicing import projection
from servicing.models import Calibration, Duty, KeptProjection

AGAIN_AFTER = timedelta(days=14)  # a mark is kept anew after so long
FURTHEST = 180.0  # days: marks likely later than that are not worth keeping yet
DAY = timedelta(days=1)


def keep(*, now: datetime | None = None) -> int:
    """Keep what we say today about each hour mark that is open; return how many were kept.

    A mark is kept again every two weeks. Not of attachments: whether they keep hanging where they hang is
    nobody's to foretell. Needs the organisation's scope.
    """
    now = now or timezone.now()
    recent = set(
        KeptProjection.objects.filter(reached_at=None, made_at__gt=now - AGAIN_AFTER).values_list(
            "machine_id", "mark_hours"
        )
    )
    open_marks = (
        Duty.objects.live()
        .exclude(mark_hours=None)
        .exclude(machine__type__category=Category.ATTACHMENT)
        .values_list("machine_id", "mark_hours")
        .distinct()
    )
    wanted = sorted(set(open_marks) - recent)
    machines = Machine.objects.select_related("yard__organisation", "type").in_bulk(
        {machine for machine, _ in wanted}
    )
    marks = [(machines[pk], hours) for pk, hours in wanted if hours > machines[pk].hours]
    return keep_marks(marks, now=now)


def keep_marks(marks: Sequence[tuple[Machine, Decimal]], *, now: datetime) -> int:
    """Keep what we say at `now` about these marks, all of them ahead; return how many were worth keeping."""
    if not marks:
        return 0
    learned = projection.learn({machine.pk: machine for machine, _ in marks}.values(), now=now)
    quantiles = projection.crossings(learned, marks)
    kept = [
        KeptProjection(
            organisation_id=machine.organisation_id,
            machine=machine,
            mark_hours=hours,
            made_at=now,
            hours_then=machine.hours,
            **{name: _stored(days) for name, days in zip(Crossing._fields, said, strict=True)},
        )
        for (machine, hours), said in zip(marks, np.transpose(quantiles), strict=True)
        if said[1] <= FURTHEST
    ]
    KeptProjection.objects.bulk_create(kept)
    return len(kept)


def settle() -> int:
    """Note when the marks of kept projections were reached; return how many were. Needs the scope."""
    reached = KeptProjection.objects.filter(reached_at=None).select_related("machine")
    waiting = [kept for kept in reached if kept.machine.hours >= kept.mark_hours]
    if not waiting:
        return 0
    since = min(kept.made_at for kept in waiting) - timedelta(days=60)
    courses: dict[int, list[tuple[datetime, Decimal]]] = {}
    readings = Reading.objects.counted().filter(machine__in={kept.machine_id for kept in waiting})
    for machine, moment, hours in (
        readings.filter(taken_at__gt=since)
        .order_by("taken_at", "pk")
        .values_list("machine", "taken_at", "hours")
    ):
        courses.setdefault(machine, []).append((moment, hours))
    settled = []
    for kept in waiting:
        kept.reached_at = crossed_at(courses.get(kept.machine_id, []), kept.mark_hours)
        if kept.reached_at:
            settled.append(kept)
    KeptProjection.objects.bulk_update(settled, ["reached_at"], batch_size=500)
    return len(settled)


def crossed_at(course: Sequence[tuple[datetime, Decimal]], mark: Decimal) -> datetime | None:
    """Return when a course of readings (moment, total hours), in time order, passed a mark.

    Between the two readings around it by proportion; None when it didn't, or had before the first reading.
    """
    for (before, low), (after, high) in pairwise(course):
        if low < mark <= high:
            return before + (after - before) * float((mark - low) / (high - low))
    return None


def learn(*, organisation: Organisation, now: datetime | None = None) -> calibration.Correction:
    """Learn the organisation's correction from its kept projections, store and return it. Needs the scope."""
    now = now or timezone.now()
    kept = list(KeptProjection.objects.exclude(likely=None))
    days = np.array([_days(each.reached_at - each.made_at) if each.reached_at else np.inf for each in kept])
    elapsed = np.array([_days(now - each.made_at) for each in kept])
    correction = calibration.learn(_said(kept), days, elapsed=elapsed) if kept else calibration.NONE
    Calibration.objects.update_or_create(
        organisation=organisation,
        defaults={**correction._asdict(), "outcomes": int(np.isfinite(days).sum()), "learned_at": now},
    )
    return correction


def correction() -> calibration.Correction:
    """Return the correction in force for the organisation whose scope is open; none until one was learned."""
    row = Calibration.objects.first()
    return calibration.Correction(row.early, row.likely, row.late) if row else calibration.NONE


def nightly(*, organisation: Organisation, now: datetime | None = None) -> None:
    """Settle, learn and keep, in this order, so that tonight's projections know of last night's news."""
    settle()
    learn(organisation=organisation, now=now)
    keep(now=now)


def _said(kept: Sequence[KeptProjection]) -> Crossing:
    return Crossing(
        *(
            np.array([np.inf if (days := getattr(each, name)) is None else days for each in kept])
            for name in Crossing._fields
        )
    )


def _stored(days: float) -> float | None:
    return float(days) if np.isfinite(days) else None


def _days(span: timedelta) -> float:
    return span / DAY
