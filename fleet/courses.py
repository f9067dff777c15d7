"""The courses of meters: what each had counted around a moment, and whether a new reading fits in."""

from bisect import bisect_right
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from operator import itemgetter
from zoneinfo import ZoneInfo

from django.db.models import OuterRef, QuerySet, Subquery

from fleet.models import Machine, MeterSegment, Reading
from fleet.usage.days import day_of, moment_of
from fleet.usage.figures import long_day
from fleet.usage.history import Verdict, judge
from fleet.usage.settle import pace_so_far

EDGES = ("first_id", "before_id", "after_id")
Point = tuple[float, float]  # day since 1970-01-01 (UTC, with fraction), what the meter showed


@dataclass(slots=True)
class Course:
    """One meter's life: what it showed when, in time order, between what is known of its start and end."""

    segment: MeterSegment
    points: list[Point] = field(default_factory=list)
    start: Point | None = None
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
            before=self.points[place - 1] if place else self.start,
            after=self.points[place] if place < len(self.points) else self.end,
            pace=pace_so_far(self.points[0], self.points[place - 1]) if place else None,
            now_day=day_of(now),
            name_day=lambda day: name_day(day, zone),
        )


class Courses:
    """The meters of some machines, with what they counted between two moments and next to these."""

    def __init__(
        self, machines: Collection[Machine], *, since: datetime, until: datetime, without: int | None = None
    ) -> None:
        """Load in three queries, inside the organisation's scope; `without` is the id of one to leave out.

        A machine that has no meter yet gets its first one, from the earliest moment on.
        """
        self._zones = {machine.pk: machine.zoneinfo for machine in machines}
        by_segment: dict[int, Course] = {}
        self._of_machine: dict[int, list[Course]] = {}
        self.received: dict[tuple[int, datetime, Decimal], int] = {}
        self.late: set[int] = set()
        """Machines of which something was counted between what had been counted already."""
        edges: list[int] = []
        segments = list(_segments(self._zones, since, until))
        metered = {segment.machine_id for segment in segments}
        segments += _first_meters([machine for machine in machines if machine.pk not in metered], since)
        for segment in segments:
            course = by_segment[segment.pk] = Course(segment)
            earlier = self._of_machine.setdefault(segment.machine_id, [])
            if segment.began != MeterSegment.Began.ORIGINAL:
                course.start = (day_of(segment.started_at), float(segment.shows_at_start))
                if earlier:
                    total = segment.shows_at_start + segment.offset
                    earlier[-1].end = (course.start[0], float(total - earlier[-1].segment.offset))
            earlier.append(course)
            edges += [getattr(segment, name) for name in EDGES if getattr(segment, name, None)]
        within = Reading.objects.filter(machine_id__among=self._zones, taken_at__range=(since, until))
        beside = Reading.objects.filter(pk__among=edges)  # apart, for each has an index of its own
        for pk, machine_id, segment_id, at, shows, state in (*_figures(within), *_figures(beside)):
            self.received[machine_id, at, shows] = pk
            if state == Reading.State.COUNTED and pk != without:
                by_segment[segment_id].points.append((day_of(at), float(shows)))
        for course in by_segment.values():
            course.points.sort()
        self.by_segment = by_segment

    def at(self, machine_id: int, moment: datetime) -> Course:
        """Return the meter in force at the moment; the first one for anything earlier."""
        courses = self._of_machine[machine_id]
        place = bisect_right(courses, moment, key=lambda course: course.segment.started_at)
        return courses[max(place - 1, 0)]

    def settle(self, reading: Reading, *, now: datetime) -> None:
        """Judge a reading and set its state, code, reason and suggestion; a counted one joins its course."""
        course = self.at(reading.machine_id, reading.taken_at)
        verdict = course.judge(reading.taken_at, reading.shows, zone=self._zones[reading.machine_id], now=now)
        reading.code = verdict.code
        reading.reason = verdict.reason
        reading.suggestion = None if verdict.suggestion is None else Decimal(f"{verdict.suggestion:.2f}")
        reading.state = Reading.State.COUNTED if verdict.counted else Reading.State.HELD
        if verdict.counted and course.add(reading.taken_at, reading.shows):
            self.late.add(reading.machine_id)


def _segments(machine_ids: Collection[int], since: datetime, until: datetime) -> Iterable[MeterSegment]:
    """The meters in time order, with the ids of the counted readings next to the two moments."""
    counted = Reading.objects.counted().filter(machine=OuterRef("machine"), segment=OuterRef("pk"))
    return (
        MeterSegment.objects.filter(machine_id__among=machine_ids)
        .defer("recorded_by", "recorded_at", "note")
        .annotate(
            before_id=_first(counted.filter(taken_at__lt=since).order_by("-taken_at", "-pk")),
            after_id=_first(counted.filter(taken_at__gt=until).order_by("taken_at", "pk")),
            first_id=_first(counted.filter(taken_at__lt=since).order_by("taken_at", "pk")),
        )
        .order_by("machine_id", "started_at", "pk")
    )


def _first_meters(machines: list[Machine], since: datetime) -> list[MeterSegment]:
    return MeterSegment.objects.bulk_create(
        MeterSegment(organisation_id=machine.organisation_id, machine=machine, started_at=since)
        for machine in machines
    )


def _first(readings: QuerySet) -> Subquery:
    return Subquery(readings.values("pk")[:1])


def _figures(readings: QuerySet) -> QuerySet:
    return readings.order_by().values_list("pk", "machine_id", "segment_id", "taken_at", "shows", "state")


def name_day(day: float, zone: ZoneInfo) -> str:
    """Name a day (days since 1970-01-01 UTC) as the zone's clocks have it: '3 May 2026'."""
    return long_day(moment_of(day).astimezone(zone))
