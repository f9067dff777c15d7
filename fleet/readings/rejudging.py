"""Readings judged again when something was counted before them, or ceased to count."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from fleet.core.prepared_queries import prepared
from fleet.models import Decision, Machine, Reading
from fleet.readings.machine_lookup import Found
from fleet.readings.meter_history import Courses
from fleet.usage.days import day_of
from fleet.usage.plausibility import Verdict
from fleet.usage.replay import StandingReading, judge_again

CHANGED = ["state", "code", "reason", "suggestion", "suggested_at"]
FITS_NOW = _("It fits the readings and decisions since.")


def rejudge(machines: Mapping[int, Machine | Found], *, since: datetime, now: datetime) -> list[Reading]:
    """Judge these machines' readings taken at `since` or later again; return those whose state changed.

    Held ones that fit now count, and counted ones that a slip explains far better, by what is known now, are
    held; each such change is kept as a decision that no person made. What a person decided stays.

    Call it in the transaction that changed what is counted, with the machines locked, before
    `propagation.hours_moved`. The number of queries doesn't grow with the number of readings.
    """
    if not machines:
        return []
    rows = list(
        Reading.objects.filter(machine_id__among=machines, taken_at__gte=since)
        .filter(Q(state=Reading.State.COUNTED) | Q(pk__in=Reading.objects.open_to_doubt().values("pk")))
        .order_by("machine_id", "taken_at", "shows", "pk")
    )
    if not any(row.state == Reading.State.HELD or not _fixed(row) for row in rows):
        return []
    courses = Courses(machines.values(), since=since, until=since)
    of_segment: dict[int, list[Reading]] = {}
    for row in rows:
        of_segment.setdefault(row.segment_id, []).append(row)
    changed: list[_Change] = []
    for segment_id, readings in of_segment.items():
        course = courses.by_meter[segment_id]
        earlier = [point for point in course.points if point[0] < day_of(since)]
        if not earlier and course.meter.started_at is not None:
            earlier = course.points[:1]
        verdicts = judge_again(
            [
                StandingReading(
                    day_of(row.taken_at), float(row.shows), row.state == Reading.State.COUNTED, _fixed(row)
                )
                for row in readings
            ],
            earlier=earlier,
            end=course.end,
            zone=machines[course.meter.machine_id].zoneinfo,
        )
        changed += [_Change(readings[place], verdict) for place, verdict in verdicts.items()]
    return _keep(changed, now)


def rejudge_after_batch(
    machines: Mapping[int, Machine | Found],
    *,
    since: Mapping[int, datetime],
    between: Iterable[int],
    held: Collection[int],
    now: datetime,
) -> list[Reading]:
    """After a batch: judge again the machines on which it counted something earlier than what was there.

    since: for each machine the earliest reading the batch counted. between: the machines among them on which
    that fell between counted readings; those with a later held reading are found here. held: the readings
    that the batch itself held, by all it counted. Where everything came in the order of time this asks one
    query and does nothing.
    """
    if not since:
        return []
    organisation_id = next(iter(machines.values())).organisation_id
    waiting = _waiting(own=organisation_id, machines=list(since), since=min(since.values()))
    late = set(between) | {
        machine_id for pk, machine_id, at in waiting if pk not in held and at > since[machine_id]
    }
    if not late:
        return []
    return rejudge({pk: machines[pk] for pk in late}, since=min(since[pk] for pk in late), now=now)


@prepared
def _waiting(own: int, machines: list[int], since: datetime) -> QuerySet:
    waiting = Reading.objects.open_to_doubt().filter(organisation=own, taken_at__gt=since)
    return waiting.filter(machine_id__among=machines).order_by().values_list("pk", "machine_id", "taken_at")


@dataclass(frozen=True, slots=True)
class _Change:
    reading: Reading
    verdict: Verdict


def _fixed(reading: Reading) -> bool:
    """Whether the reading's state came of a person's decision, or of a change of the meter."""
    of_meter = reading.source == Reading.Source.METER
    return reading.decided_at is not None or reading.corrects_id is not None or of_meter


def _keep(changed: list[_Change], now: datetime) -> list[Reading]:
    if not changed:
        return []
    decisions = []
    for change in changed:
        reading, verdict = change.reading, change.verdict
        was = reading.state
        reading.state = Reading.State.COUNTED if verdict.counted else Reading.State.HELD
        reading.code, reading.reason = verdict.code, verdict.reason
        reading.suggestion = None if verdict.suggestion is None else Decimal(f"{verdict.suggestion:.2f}")
        reading.suggested_at = None
        decisions.append(
            Decision(
                organisation_id=reading.organisation_id,
                reading=reading,
                kind=Decision.Kind.BY_ITSELF,
                was=was,
                became=reading.state,
                at=now,
                note=verdict.reason or str(FITS_NOW),
            )
        )
    Reading.objects.bulk_update([change.reading for change in changed], CHANGED, batch_size=500)
    Decision.objects.bulk_create(decisions)
    return [change.reading for change in changed]
