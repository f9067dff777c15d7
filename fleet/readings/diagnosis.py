"""Held readings and what may lie behind each: proposals to a person, never carried out by themselves."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, TypedDict, cast

from django.db.models import OuterRef, Q, QuerySet, Subquery

from fleet.models import Machine, Reading
from fleet.usage import explanations
from fleet.usage.days import EPOCH, day_of
from fleet.usage.plausibility import Point, wrapped
from fleet.usage.replay import pace_so_far

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class Neighbours(TypedDict):
        """What the same meter counted around a reading."""

        before_shows: Decimal | None
        before_at: datetime | None
        after_shows: Decimal | None
        after_at: datetime | None
        first_shows: Decimal | None
        first_at: datetime | None

    Placed = WithAnnotations[Reading, Neighbours]

NEAR = timedelta(days=2)  # two held readings that far apart may have been mixed up
SAME_ROUND = timedelta(hours=12)  # a held and a counted one, when one sender sent both
MOST = 2000  # held readings of a page's machines that are looked at for a new meter


@dataclass(frozen=True, slots=True)
class MeterChange:
    """A change of the meter that is proposed: a rollover has `wraps_at`, a new meter the two figures."""

    at: datetime
    wraps_at: Decimal | None = None
    old_shows: Decimal | None = None
    new_shows: Decimal | None = None
    since: list[Reading] = field(default_factory=list)
    """The held readings that follow on from each other on the new meter, in time order."""


@dataclass(slots=True)
class Case:
    """A held reading, with what may lie behind it."""

    reading: Reading
    change: MeterChange | None = None
    swap: Reading | None = None


def with_neighbours(chosen: QuerySet[Reading]) -> "QuerySet[Placed]":
    """Add what the same meter counted last before, first after and first of all.

    As `before_shows`, `before_at`, `after_shows`, `after_at`, `first_shows`, `first_at`.
    """
    counted = Reading.history(machine=OuterRef("machine"), segment=OuterRef("segment"))
    beside = {
        "before": counted.before(OuterRef("taken_at")),
        "after": counted.after(OuterRef("taken_at")),
        "first": counted.earliest_first(),
    }
    beside_each = chosen.annotate(
        **{f"{name}_shows": Subquery(found.values("shows")[:1]) for name, found in beside.items()},
        **{f"{name}_at": Subquery(found.values("taken_at")[:1]) for name, found in beside.items()},
    )
    return cast("QuerySet[Placed]", beside_each)


def cases(readings: "Sequence[Placed]") -> list[Case]:
    """Return what may lie behind each held reading, which must carry its neighbours.

    Readings that belong to another's case (those that run on on a new meter, the other half of a swap) are
    left to that one and not listed again. The number of queries doesn't grow with the number of readings.
    """
    by_figure = [reading for reading in readings if reading.code not in Reading.CLOCK_CODES]
    changes = _changes(by_figure)
    swaps = _swaps([reading for reading in by_figure if reading.pk not in changes])
    told: set[int] = set()
    found = []
    for reading in readings:
        if reading.pk in told:
            continue
        case = Case(reading, change=changes.get(reading.pk), swap=swaps.get(reading.pk))
        if case.change is not None:
            told |= {each.pk for each in case.change.since}
        if case.swap is not None:
            told.add(case.swap.pk)
        found.append(case)
    return found


def case_of(reading: "Placed") -> Case:
    """Return what may lie behind one held reading, which must carry its neighbours."""
    return cases([reading])[0]


def proposed_change(machine: Machine, reading_id: int) -> MeterChange | None:
    """Return the change of the meter that a held reading of the machine speaks for; None if it doesn't."""
    held = with_neighbours(Reading.objects.open_to_doubt().filter(machine=machine))
    reading = held.filter(pk=reading_id).first()
    return None if reading is None else case_of(reading).change


def _changes(readings: "Sequence[Placed]") -> dict[int, MeterChange]:
    """By reading: the rollover or the new meter that explains it."""
    last = [reading for reading in readings if reading.before_at and not reading.after_at]
    lows: dict[int, list[Reading]] = {}
    if last:
        held = Reading.objects.open_to_doubt().filter(machine__in={reading.machine_id for reading in last})
        for low in held.order_by("taken_at", "pk")[:MOST]:
            lows.setdefault(low.segment_id, []).append(low)
    changes: dict[int, MeterChange] = {}
    for reading in last:
        before, pace = _before(reading), _pace(reading)
        assert before is not None
        day, shows = _point(reading)
        wrap = wrapped(hours=shows, day=day, before=before, pace=pace)
        if wrap is not None and reading.code == "rolled_over":
            changes[reading.pk] = MeterChange(_passed(before, (day, shows), wrap), wraps_at=_hours(wrap))
            continue
        of_meter = lows.get(reading.segment_id, [])
        found = explanations.new_meter(before=before, lows=[_point(low) for low in of_meter], pace=pace)
        if found is not None and reading.pk in {of_meter[place].pk for place in found.members}:
            changes[reading.pk] = MeterChange(
                _whole_minute(found.day),
                old_shows=_hours(found.old_shows),
                new_shows=_hours(found.new_shows),
                since=[of_meter[place] for place in found.members],
            )
    return changes


def _swaps(readings: "Sequence[Placed]") -> dict[int, Reading]:
    """By reading: the one of another machine with which it was likely mixed up."""
    if not readings:
        return {}
    wanted = Q(pk=None)
    for reading in readings:
        at = reading.taken_at
        wanted |= Q(state=Reading.State.HELD, taken_at__range=(at - NEAR, at + NEAR))
        if reading.before_shows is not None:
            wanted |= Q(
                state=Reading.State.COUNTED,
                decided_at=None,
                corrects=None,
                source=reading.source,
                sender=reading.sender,
                taken_by=reading.taken_by_id,
                taken_at__range=(at - SAME_ROUND, at + SAME_ROUND),
                shows__range=(reading.before_shows, reading.before_shows + 24 * 14),
            )
    others = list(
        with_neighbours(Reading.objects.filter(wanted).exclude(code__in=Reading.CLOCK_CODES))
        .select_related("machine__type", "machine__yard__organisation", "taken_by__user", "token")
        .order_by("-state", "taken_at", "pk")[:MOST]  # held ones first
    )
    swaps: dict[int, Reading] = {}
    taken: set[int] = set()
    for reading in readings:
        if reading.pk in taken:
            continue
        for other in others:
            if other.pk not in taken and _mixed_up(reading, other):
                swaps[reading.pk] = other
                taken |= {reading.pk, other.pk}
                break
    return swaps


def _mixed_up(reading: "Placed", other: "Placed") -> bool:
    if reading.machine_id == other.machine_id or abs(reading.taken_at - other.taken_at) > NEAR:
        return False
    return explanations.mixed_up(
        one=_point(reading),
        one_between=(_before(reading), _after(reading)),
        other=_point(other),
        other_between=(_before(other), _after(other)),
    )


def _point(reading: Reading) -> Point:
    return day_of(reading.taken_at), float(reading.shows)


def _before(reading: "Placed") -> Point | None:
    if reading.before_at is None or reading.before_shows is None:
        return None
    return day_of(reading.before_at), float(reading.before_shows)


def _after(reading: "Placed") -> Point | None:
    if reading.after_at is None or reading.after_shows is None:
        return None
    return day_of(reading.after_at), float(reading.after_shows)


def _pace(reading: "Placed") -> float | None:
    if reading.first_at is None or reading.first_shows is None:
        return pace_so_far(None, _before(reading))
    return pace_so_far((day_of(reading.first_at), float(reading.first_shows)), _before(reading))


def _passed(before: Point, low: Point, wrap: float) -> datetime:
    """When the meter stood at its last figure, if the machine ran evenly between the two readings."""
    share = (wrap - before[1]) / max(wrap - before[1] + low[1], 0.1)
    return _whole_minute(before[0] + share * (low[0] - before[0]))


def _whole_minute(day: float) -> datetime:
    """The moment, to the minute that follows: a page's field holds no seconds, and none may be lost."""
    return EPOCH + timedelta(minutes=-int(-day * 1440 // 1))


def _hours(value: float) -> Decimal:
    return Decimal(f"{value:.2f}")
