"""The days on which machines will reach their marks, learnt from how they and their kin are used.

Reads the counted readings of the last two years and what is known of the days ahead, and hands arrays to
`fleet.usage`; asks eight queries, and three more for attachments, however many machines there are. An
attachment's readings are its hosts' while it was mounted, each mounting a stretch of its own; one that hangs
on no machine runs nothing and reaches no hours. An organisation's machines lend each other strength: all of
them while it is small, those of the same type once it has more than `WHOLE` machines.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from django.db.models import Exists, OuterRef
from numpy.typing import NDArray

from fleet.core import column_arrays
from fleet.models import Attachment, Machine, Mounting, Reading
from fleet.readings import attachment_hours
from fleet.usage import calibration, crossing, history, pace, projector
from fleet.usage.days import date_of, day_of, moment_of, number_of
from fleet.usage.projector import Projector
from fleet.usage.scheduled_days import ScheduledHours
from servicing.duties.scheduled_days import known_days
from servicing.planning.intervals import Mark

HISTORY = timedelta(days=730)
WHOLE = 120  # machines: up to here the whole organisation is read
KIN = 120  # machines of one type that are read beside those asked for
ABOVE = 1e7  # hours, more than any machine has run
HAIR = timedelta(milliseconds=1)  # more than a moment can lose as a fraction of days

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Days(NamedTuple):
    """The 10, 50 and 90 % quantiles of the day a mark is reached; None: not within three years."""

    early: date | None
    likely: date | None
    late: date | None


class Marks(NamedTuple):
    """Hour marks and dates of machines as columns: a machine's id, total hours, day since 1970; NaN: none."""

    machine: Ints
    hours: Floats
    on: Floats


class Readings(NamedTuple):
    """Counted readings, end to end: number of the machine, day since 1970, total hours, meter segment."""

    machine: np.ndarray
    day: np.ndarray
    hours: np.ndarray
    segment: np.ndarray


class Group(NamedTuple):
    """Machines that lend each other strength: numbers from `first` to before `last`, and what was learned."""

    first: int
    last: int
    projector: Projector


@dataclass(frozen=True)
class Learned:
    """How machines and their kin are used, as known at `now`.

    number: a machine's place in the arrays, by id; asked: the machines asked for, by id; known: what is known
    of their days ahead.
    """

    now: datetime
    number: dict[int, int]
    asked: dict[int, Machine]
    groups: list[Group]
    readings: Readings
    idle: frozenset[int]  # ids of the attachments that hang on no machine
    known: ScheduledHours | None

    def pace_of(self, machine: Machine) -> tuple[pace.Pace, int]:
        """The pace of a machine's kin, and the machine's place in it."""
        place = self.number[machine.pk]
        group = next(each for each in self.groups if each.first <= place < each.last)
        return group.projector.pace, place - group.first


def learn(machines: Iterable[Machine], *, now: datetime) -> Learned:
    """Learn how these machines are used, from their counted readings and their kin's.

    Machines come with type, yard and organisation. Of a large organisation's machines the first `KIN` of a
    type teach what is usual for it, whichever machines are asked for.
    """
    asked = {machine.pk: machine for machine in machines}
    kind_of, teachers, whole = _kin(asked.values())
    ordered = sorted(kind_of, key=lambda pk: (0 if whole else kind_of[pk], pk))
    number = {pk: place for place, pk in enumerate(ordered)}
    hung = Mounting.objects.open().filter(attachment=OuterRef("pk"))
    attachments = dict(Attachment.objects.filter(pk__in=ordered).values_list("pk", Exists(hung)))
    readings = _readings(ordered, number, attachments, now)
    kind = np.array([kind_of[pk] for pk in ordered], np.int64)
    teaches = np.array([pk in teachers for pk in ordered], bool)
    edges = [0, len(ordered)] if whole else [0, *(np.flatnonzero(np.diff(kind)) + 1), len(ordered)]
    return Learned(
        now,
        number,
        asked,
        [_group(int(a), int(b), readings, kind, teaches, now) for a, b in pairwise(edges) if a < b],
        readings,
        frozenset(pk for pk, is_mounted in attachments.items() if not is_mounted),
        known_days(asked.values(), number=number, now=now),
    )


def crossings(learned: Learned, *, machine: Ints, hours: Floats) -> crossing.Crossing:
    """Return the days from now, in fractions, until machines reach total hours; uncorrected. inf: too far.

    machine: ids of machines asked for. The hours of a machine without any reading are taken as of now.
    """
    ids, row = np.unique(machine, return_inverse=True)
    asked = [learned.asked[pk] for pk in ids.tolist()]
    place = np.array([learned.number[pk] for pk in ids.tolist()], np.int64)[row]
    have = np.array([float(each.hours) for each in asked])[row]
    last = np.array([day_of(each.hours_at or learned.now) for each in asked])[row]
    found = crossing.Crossing(*(np.full(len(row), np.inf) for _ in range(3)))
    for group in learned.groups:
        own = np.flatnonzero((place >= group.first) & (place < group.last))
        if own.size:
            ahead = group.projector.crossings(
                machine=place[own] - group.first,
                remaining=hours[own] - have[own],
                last=last[own],
                known=_known_of(learned.known, group),
            )
            for whole, part in zip(found, ahead, strict=True):
                whole[own] = part
    idle = np.isin(machine, list(learned.idle))
    return crossing.Crossing(*(np.where(idle, np.inf, quantile) for quantile in found))


def project(
    learned: Learned, marks: Marks, *, correction: calibration.Correction = calibration.NONE
) -> tuple[Floats, crossing.Crossing]:
    """Return the yard's days between which marks will be reached, and the uncorrected days from now.

    The days are an array [marks, 3] of early, likely and late in days since 1970, NaN for "not within three
    years"; a mark already reached gives three times the day on which it was: of the first counted reading at
    or beyond its hours, or its own date, whichever came first. correction: what earlier projections of the
    organisation taught, see fleet.usage.calibration.
    """
    ids, row = np.unique(marks.machine, return_inverse=True)
    asked = [learned.asked[pk] for pk in ids.tolist()]
    local = [learned.now.astimezone(machine.zoneinfo) for machine in asked]
    today = np.array([number_of(moment.date()) for moment in local], float)[row]
    clock = np.array([_clock(moment) for moment in local])[row]
    have = np.array([float(machine.hours) for machine in asked])[row]
    timed = ~np.isnan(marks.hours)
    said = crossings(learned, machine=marks.machine, hours=np.where(timed, marks.hours, have + 1))
    said = crossing.Crossing(*(np.where(timed, quantile, np.inf) for quantile in said))
    ahead = calibration.correct(said, correction)
    calendar = np.where(np.isnan(marks.on), np.inf, marks.on - today)
    ahead = crossing.Crossing(*(np.floor(clock + quantile) for quantile in ahead))
    whole_days = np.transpose(crossing.earlier_of(ahead, calendar))
    days = np.where(whole_days <= crossing.HORIZON, today[:, None] + whole_days, np.nan)
    with np.errstate(invalid="ignore"):
        reached = (have >= marks.hours) | (calendar <= 0)
    behind = np.flatnonzero(reached)
    days[behind] = _reached_on(
        learned,
        [asked[at] for at in row[behind].tolist()],
        np.where(have >= marks.hours, marks.hours, np.nan)[behind],
        np.where(marks.on <= today, marks.on, np.nan)[behind],
        today[behind],
    )[:, None]
    return days, said


def days(
    marks: Sequence[tuple[Machine, Mark]],
    *,
    now: datetime,
    correction: calibration.Correction = calibration.NONE,
) -> list[Days]:
    """Return, for each machine and mark, the yard's days between which it will be reached; as `project`."""
    if not marks:
        return []
    learned = learn((machine for machine, _ in marks), now=now)
    asked = Marks(
        np.array([machine.pk for machine, _ in marks], np.int64),
        np.array([np.nan if mark.hours is None else float(mark.hours) for _, mark in marks]),
        np.array([np.nan if mark.on is None else number_of(mark.on) for _, mark in marks]),
    )
    found, _ = project(learned, asked, correction=correction)
    return [Days(*(date_of(day) for day in row)) for row in found.tolist()]


def _kin(machines: Collection[Machine]) -> tuple[dict[int, int], Collection[int], bool]:
    """The machines to read, by id, with their types; which of them teach; whether they are all there are."""
    asked = {machine.pk: machine.type_id for machine in machines}
    others = list(Machine.objects.in_service().order_by("pk").values_list("pk", "type_id"))
    if len(others) <= WHOLE:
        everything = asked | dict(others)
        return everything, everything, True
    kinds = set(asked.values())
    teachers: dict[int, int] = {}
    taught: Counter[int] = Counter()
    for pk, of in others:
        if of in kinds and taught[of] < KIN:
            taught[of] += 1
            teachers[pk] = of
    return asked | teachers, teachers, False


def _group(
    first: int, last: int, readings: Readings, kind: Ints, teaches: np.ndarray, now: datetime
) -> Group:
    low, high = np.searchsorted(readings.machine, [first, last])
    own = {name: values[low:high] for name, values in readings._asdict().items()}
    own["machine"] = own["machine"] - first
    learned = projector.learn(
        history.increments(**own, machines=last - first),
        machine_type=kind[first:last],
        now=day_of(now),
        teaches=teaches[first:last],
    )
    return Group(first, last, learned)


def _known_of(known: ScheduledHours | None, group: Group) -> ScheduledHours | None:
    if known is None:
        return None
    own = (known.machine >= group.first) & (known.machine < group.last)
    if not own.any():
        return None
    return ScheduledHours(
        known.machine[own] - group.first, known.start[own], known.end[own], known.hours[own]
    )


def _readings(
    ids: Sequence[int], number: dict[int, int], attachments: Collection[int], now: datetime
) -> Readings:
    """The readings by number and time. An attachment's stretches are its mountings: none has both."""
    since = now - HISTORY
    rows = Reading.objects.counted().filter(machine__in=list(ids), taken_at__gt=since, taken_at__lte=now)
    read = column_arrays.read(
        rows.order_by("machine", "taken_at", "pk"),
        machine="machine_id",
        day=column_arrays.Days("taken_at"),
        hours="hours",
        segment="segment_id",
    )
    if attachments:
        points = [p for p in attachment_hours.histories(attachments, until=now) if p.at > since]
        own = np.array([(p.attachment, day_of(p.at), float(p.hours), p.mounting) for p in points], float)
        read = {
            name: np.concatenate([values, own.reshape(-1, 4)[:, at]])
            for at, (name, values) in enumerate(read.items())
        }
    known = np.array(sorted(number), np.int64)
    place = np.array([number[pk] for pk in known.tolist()], np.int64)
    of = place[np.searchsorted(known, read["machine"].astype(np.int64))]
    order = np.argsort(of, kind="stable")  # in time order within a machine
    return Readings(
        machine=of[order],
        day=read["day"][order],
        hours=read["hours"][order],
        segment=read["segment"][order].astype(np.int64),
    )


def _clock(moment: datetime) -> float:
    """Local time of day, as a share of a day."""
    return (moment.hour * 3600 + moment.minute * 60 + moment.second) / 86400


def _reached_on(
    learned: Learned, machines: Sequence[Machine], hours: Floats, on: Floats, today: Floats
) -> Floats:
    """The yard's days since 1970 on which marks behind were reached; NaN: not by its hours, by its date."""
    readings = learned.readings
    number = np.array([learned.number[machine.pk] for machine in machines], np.int64)
    # readings lie by machine and time; the highest so far, each machine's above all of the one before
    highest = np.maximum.accumulate(readings.machine * ABOVE + readings.hours)
    at = np.searchsorted(highest, number * ABOVE + np.nan_to_num(hours))
    there = at < np.searchsorted(readings.machine, number, side="right")
    seen: dict[tuple[int, int], float] = {}
    reached = np.full(len(machines), np.nan)
    for place in np.flatnonzero(~np.isnan(hours)).tolist():
        machine, reading = machines[place], int(at[place])
        key = (machine.yard_id, reading) if there[place] else (-1, machine.pk)
        if key not in seen:
            moment = moment_of(readings.day[reading]) if there[place] else machine.hours_at
            day = machine.today(moment + HAIR) if moment else None
            seen[key] = number_of(day) if day else today[place]
        reached[place] = seen[key]
    return np.fmin(reached, on)
