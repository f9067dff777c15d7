"""Our own track record: projections are kept, compared with what came, and learned from."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import cast

import numpy as np
from django.db import connections, transaction
from django.db.models import F
from django.utils import timezone

from fleet.core import column_arrays
from fleet.core.column_arrays import Floats
from fleet.models import Organisation, Reading
from fleet.usage import calibration
from fleet.usage.crossing import Crossing
from fleet.usage.days import DAY, day_of
from servicing.duties import projection
from servicing.duties.duty_table import hours_of
from servicing.models import Calibration, KeptProjection

AGAIN_AFTER = timedelta(days=14)  # a mark is kept once more after so long
FURTHEST = 180.0  # days: marks likely later than that are not worth keeping yet


def keep(marks: projection.Marks, said: Crossing, learned: projection.Learned, *, now: datetime) -> int:
    """Keep what is said today of each hour mark that lies ahead; return how many were kept.

    said: days from now until then, uncorrected. A mark is kept again every two weeks. Not of attachments:
    whether they keep hanging where they hang is nobody's to foretell. Needs the organisation's scope.
    """
    metered = {pk: float(m.hours) for pk, m in learned.asked.items() if not m.is_attachment}
    recent = column_arrays.read(
        KeptProjection.objects.filter(
            reached_at=None, made_at__gt=now - AGAIN_AFTER, machine__in=list(learned.asked)
        ),
        machine="machine_id",
        hours="mark_hours",
    )
    kept_lately = set(zip(recent["machine"].tolist(), recent["hours"].tolist(), strict=True))
    own = np.isin(marks.machine, list(metered)) & (said.likely <= FURTHEST)
    wanted: dict[tuple[int, float], int] = {}
    for at in np.flatnonzero(own).tolist():
        key = (int(marks.machine[at]), float(marks.hours[at]))
        if key[1] > metered[key[0]] and key not in kept_lately:
            wanted[key] = at
    if not wanted:
        return 0
    organisation = next(iter(learned.asked.values())).organisation_id
    chosen = np.array(list(wanted.values()))
    machine, hours = marks.machine[chosen], marks.hours[chosen]
    values = {
        "machine": machine.astype(float),
        "mark_hours": hours,
        "hours_then": np.array([metered[pk] for pk in machine.tolist()]),
        **{name: quantile[chosen] for name, quantile in said._asdict().items()},
    }
    _store_kept(values, organisation, now)
    return len(chosen)


def _store_kept(values: Mapping[str, Floats], organisation_id: int, now: datetime) -> None:
    using = KeptProjection.objects.db
    if connections[using].vendor != "postgresql":
        KeptProjection.objects.bulk_create(
            KeptProjection(
                organisation_id=organisation_id,
                machine_id=int(machine),
                mark_hours=cast(Decimal, hours_of(hours)),
                hours_then=cast(Decimal, hours_of(have)),
                made_at=now,
                **{name: _stored(days) for name, days in zip(Crossing._fields, said, strict=True)},
            )
            for machine, hours, have, *said in zip(*(each.tolist() for each in values.values()), strict=True)
        )
        return
    said = ", ".join(f"NULLIF({name}, 'Infinity')" for name in Crossing._fields)
    with transaction.atomic(using=using), connections[using].cursor() as cursor:
        column_arrays.stage("kept_now", values, using=using)
        cursor.execute(
            "INSERT INTO servicing_keptprojection"
            f" (organisation_id, machine_id, mark_hours, hours_then, made_at, {', '.join(Crossing._fields)})"
            f" SELECT %s, machine::bigint, mark_hours, hours_then, %s, {said} FROM kept_now",
            [organisation_id, now],
        )


def note_reached_marks() -> int:
    """Note when the marks of kept projections were reached; return how many were. Needs the scope."""
    waiting = list(
        KeptProjection.objects.filter(reached_at=None, machine__hours__gte=F("mark_hours")).select_related(
            "machine"
        )
    )
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
    reached = []
    for kept in waiting:
        kept.reached_at = crossed_at(courses.get(kept.machine_id, []), kept.mark_hours)
        if kept.reached_at:
            reached.append(kept)
    KeptProjection.objects.bulk_update(reached, ["reached_at"], batch_size=500)
    return len(reached)


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
    kept = column_arrays.read(
        KeptProjection.objects.exclude(likely=None),
        made=column_arrays.Days("made_at"),
        reached=column_arrays.Days("reached_at"),
        **{name: name for name in Crossing._fields},
    )
    made = kept["made"]
    days = np.where(np.isnan(kept["reached"]), np.inf, kept["reached"] - made)
    said = Crossing(*(np.where(np.isnan(kept[name]), np.inf, kept[name]) for name in Crossing._fields))
    elapsed = day_of(now) - made
    correction = calibration.learn(said, days, elapsed=elapsed) if len(made) else calibration.NONE
    Calibration.objects.update_or_create(
        organisation=organisation,
        defaults={**correction._asdict(), "outcomes": int(np.isfinite(days).sum()), "learned_at": now},
    )
    return correction


def correction() -> calibration.Correction:
    """Return the correction in force for the organisation whose scope is open; none until one was learned."""
    row = Calibration.objects.first()
    return calibration.Correction(row.early, row.likely, row.late) if row else calibration.NONE


def look_back(*, organisation: Organisation, now: datetime | None = None) -> None:
    """Note what was reached and learn from it, before tonight's projections are made. Needs the scope."""
    note_reached_marks()
    learn(organisation=organisation, now=now)


def _stored(days: float) -> float | None:
    return float(days) if np.isfinite(days) else None


def _days(span: timedelta) -> float:
    return span / DAY
