"""The courses of meters: what each had counted around a moment, and whether a new reading fits in."""

from bisect import bisect_right, insort
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal
from operator import itemgetter
from typing import NamedTuple
from zoneinfo import ZoneInfo

from django.db.models import Case, OuterRef, QuerySet, Subquery, When
from django.db.models.functions import JSONArray

from fleet.core.prepared_queries import prepared
from fleet.models import Machine, MeterSegment, Reading
from fleet.readings.machine_lookup import Found
from fleet.readings.new_reading import Taken
from fleet.usage.days import day_of
from fleet.usage.history import Verdict, judge
from fleet.usage.replay import pace_so_far

NONE = 0  # the id of no reading
Beside = tuple[int, float, float]  # a meter's id, and a point of its course
Point = tuple[float, float]  # day since 1970-01-01 (UTC, with fraction), what the meter showed


class Meter(NamedTuple):
    """A meter of a machine: total hours are what it shows plus `offset`. started_at: None for the first."""

    pk: int
    machine_id: int
    started_at: datetime | None
    shows_at_start: Decimal
    offset: Decimal


@dataclass(slots=True)
class Course:
    """One meter's life: what it showed when, in time order; of a later meter also at its start and end."""

    meter: Meter
    points: list[Point] = field(default_factory=list)
    end: Point | None = None

    def add(self, taken_at: datetime, shows: Decimal) -> bool:
        """Let a counted reading take its place; return whether others come after it."""
        day = day_of(taken_at)
        place = bisect_right(self.points, day, key=itemgetter(0))
        self.points.insert(place, (day, float(shows)))
        return place < len(self.points) - 1

    def judge(self, taken_at: datetime, shows: Decimal, *, zone: ZoneInfo, now: datetime) -> Verdict:
        """Judge a new reading against its neighbours; the suggestion, too, is what the meter shows."""
        day = day_of(taken_at)
        place = bisect_right(self.points, day, key=itemgetter(0))
        return judge(
            hours=float(shows),
            taken_at_day=day,
            before=self.points[place - 1] if place else None,
            after=self.points[place] if place < len(self.points) else self.end,
            pace=pace_so_far(self.points[0], self.points[place - 1]) if place else None,
            now_day=day_of(now),
            zone=zone,
        )


class Courses:
    """The meters of some machines, with what they counted between two moments and next to these."""

    def __init__(
        self,
        machines: Collection[Machine | Found],
        *,
        since: datetime,
        until: datetime,
        without: int | None = None,
    ) -> None:
        """Load in two queries, inside the organisation's scope; `without` is the id of one to leave out.

        A machine that has no meter yet gets its first one, from the earliest moment on.
        """
        self._zones = {machine.pk: machine.zoneinfo for machine in machines}
        self.by_meter: dict[int, Course] = {}
        self._of_machine: dict[int, list[Course]] = {}
        self.received: dict[tuple[int, datetime, Decimal], int] = {}
        self.late: set[int] = set()
        """Machines of which something was counted between what had been counted already."""
        beside: set[Beside] = set()
        for meter, edges in _meters(list(self._zones), since, until, without):
            self._add(Course(meter))
            beside |= edges
        for meter_id, day, shown in sorted(beside):
            insort(self.by_meter[meter_id].points, (day, shown))
        for meter in _first_meters([each for each in machines if each.pk not in self._of_machine], since):
            self._add(Course(meter))
        for pk, machine_id, meter_id, at, shows, state in _within(
            machines=list(self._zones), since=since, until=until
        ):
            self.received[machine_id, at, shows] = pk
            if state == Reading.State.COUNTED and pk != without:
                insort(self.by_meter[meter_id].points, (day_of(at), float(shows)))

    def _add(self, course: Course) -> None:
        meter = course.meter
        earlier = self._of_machine.setdefault(meter.machine_id, [])
        if meter.started_at is not None:
            day, total = day_of(meter.started_at), meter.shows_at_start + meter.offset
            course.points.append((day, float(meter.shows_at_start)))
            if earlier:
                earlier[-1].end = (day, float(total - earlier[-1].meter.offset))
        earlier.append(course)
        self.by_meter[meter.pk] = course

    def at(self, machine_id: int, moment: datetime) -> Course:
        """Return the meter in force at the moment; the first one for anything earlier."""
        courses = self._of_machine[machine_id]
        return courses[bisect_right(courses, moment, lo=1, key=_started) - 1]

    def judge(self, reading: Reading | Taken, *, now: datetime) -> None:
        """Judge a reading and set its state, code, reason and suggestion; a counted one joins its course."""
        course = self.at(reading.machine_id, reading.taken_at)
        verdict = course.judge(reading.taken_at, reading.shows, zone=self._zones[reading.machine_id], now=now)
        reading.code = verdict.code
        reading.reason = verdict.reason
        reading.suggestion = None if verdict.suggestion is None else Decimal(f"{verdict.suggestion:.2f}")
        reading.state = Reading.State.COUNTED if verdict.counted else Reading.State.HELD
        if verdict.counted and course.add(reading.taken_at, reading.shows):
            self.late.add(reading.machine_id)


def _meters(
    machine_ids: list[int], since: datetime, until: datetime, without: int | None
) -> Iterator[tuple[Meter, set[Beside]]]:
    """The meters in time order, each with its machine's first point and those around the two moments."""
    rows = _metered(machines=machine_ids, since=since, until=until, without=without or NONE)
    for *meter, first, before, after in rows:
        yield Meter(*meter), {_beside(*edge) for edge in (first, before, after) if edge is not None}


def _beside(meter_id: int, at: str, shows: float) -> Beside:
    moment = datetime.fromisoformat(at)
    return meter_id, day_of(moment if moment.tzinfo else moment.replace(tzinfo=UTC)), shows


@prepared
def _metered(machines: list[int], since: datetime, until: datetime, without: int) -> QuerySet:
    counted = Reading.objects.counted().filter(machine=OuterRef("machine")).exclude(pk=without)
    before, after = counted.before(since), counted.after(until)
    later_start = Case(When(began=MeterSegment.Began.ORIGINAL, then=None), default="started_at")
    return (
        MeterSegment.objects.filter(machine_id__among=machines)
        .order_by("machine_id", "started_at", "pk")
        .values_list(
            *("pk", "machine_id", later_start, "shows_at_start", "offset"),
            *(_point(before.earliest_first()), _point(before), _point(after)),
        )
    )


def _first_meters(machines: list[Machine | Found], since: datetime) -> Iterator[Meter]:
    for made in MeterSegment.objects.bulk_create(
        MeterSegment(organisation_id=machine.organisation_id, machine_id=machine.pk, started_at=since)
        for machine in machines
    ):
        yield Meter(made.pk, made.machine_id, None, made.shows_at_start, made.offset)


@prepared
def _within(machines: list[int], since: datetime, until: datetime) -> QuerySet:
    readings = Reading.objects.filter(machine_id__among=machines, taken_at__gte=since, taken_at__lte=until)
    return readings.order_by().values_list("pk", "machine_id", "segment_id", "taken_at", "shows", "state")


def _point(readings: QuerySet) -> Subquery:
    """The first of some readings as [meter, moment, shows]; SQLite writes no zone, all it keeps is UTC."""
    return Subquery(readings.values(point=JSONArray("segment_id", "taken_at", "shows"))[:1])


def _started(course: Course) -> datetime:
    """When a later meter began; only the first one may have no beginning."""
    assert course.meter.started_at is not None
    return course.meter.started_at
