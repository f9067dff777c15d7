"""The days on which machines will reach their marks, learnt from how they and their kin are used.

Reads the counted readings of the last two years and what is known of the days ahead, and hands arrays to
`fleet.usage`; asks eight queries, and three more for attachments, however many machines there are. An
attachment's readings are its hosts' while it was mounted, each mounting a stretch of its own; one that hangs
on no machine runs nothing and reaches no hours. An organisation's machines lend each other strength: all of
them while it is small, those of the same type once it has more than `WHOLE` machines.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import islice
from operator import itemgetter
from typing import NamedTuple

import numpy as np
from django.db.models import Exists, FloatField, OuterRef
from django.db.models.functions import Cast

from fleet import mounted
from fleet.models import Attachment, Machine, Mounting, Reading
from fleet.usage import calibration, crossing, history, pace, projector
from fleet.usage.known import Known
from fleet.usage.projector import Projector
from servicing.days_known import known_days
from servicing.planning.intervals import Mark

HISTORY = timedelta(days=730)
WHOLE = 120  # machines: up to here the whole organisation is read
KIN = 120  # machines of one type that are read beside those asked for
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
DAY = timedelta(days=1)


class Days(NamedTuple):
    """The 10, 50 and 90 % quantiles of the day a mark is reached; None: not within three years."""

    early: date | None
    likely: date | None
    late: date | None


class Readings(NamedTuple):
    """Counted readings, end to end: number of the machine, day since 1970, total hours, meter segment."""

    machine: np.ndarray
    day: np.ndarray
    hours: np.ndarray
    segment: np.ndarray


@dataclass(frozen=True)
class Learned:
    """How machines and their kin are used, as known at `now`. `number` is a machine's place in `usage`."""

    now: datetime
    number: dict[int, int]
    projector: Projector
    readings: Readings
    idle: frozenset[int] = frozenset()  # ids of the attachments that hang on no machine
    known: Known | None = None  # what is known of the days ahead of the machines asked for

    @property
    def usage(self) -> pace.Pace:
        """The pace of each machine."""
        return self.projector.pace


def learn(machines: Iterable[Machine], *, now: datetime) -> Learned:
    """Learn how these machines are used, from their counted readings and their kin's.

    Machines come with yard and organisation.
    """
    asked = list(machines)
    kin, whole = _kin(asked)
    number = {pk: position for position, pk in enumerate(sorted(kin))}
    hung = Mounting.objects.open().filter(attachment=OuterRef("pk"))
    attachments = dict(Attachment.objects.filter(pk__in=kin).values_list("pk", Exists(hung)))
    readings = _readings(number, attachments, now)
    kind = np.array([kin[pk] for pk in number])
    used = projector.learn(
        history.increments(**readings._asdict(), machines=len(number)),
        machine_type=kind,
        now=_day(now),
        organisation=None if whole else kind,  # kinds lend each other nothing where not all are read
    )
    idle = frozenset(pk for pk, is_mounted in attachments.items() if not is_mounted)
    return Learned(now, number, used, readings, idle, known_days(asked, number=number, now=now))


def crossings(learned: Learned, marks: Sequence[tuple[Machine, Decimal]]) -> crossing.Crossing:
    """Return the days from now, in fractions, until machines reach total hours; uncorrected. inf: too far.

    The hours of a machine without any reading are taken as of now.
    """
    found = learned.projector.crossings(
        machine=np.array([learned.number[machine.pk] for machine, _ in marks], np.int64),
        remaining=np.array([float(hours - machine.hours) for machine, hours in marks]),
        last=np.array([_day(machine.hours_at or learned.now) for machine, _ in marks]),
        known=learned.known,
    )
    idle = np.array([machine.pk in learned.idle for machine, _ in marks], bool)
    return crossing.Crossing(*(np.where(idle, np.inf, quantile) for quantile in found))


def days(
    marks: Sequence[tuple[Machine, Mark]],
    *,
    now: datetime,
    correction: calibration.Correction = calibration.NONE,
) -> list[Days]:
    """Return, for each machine and mark, the yard's days between which the mark will be reached.

    Machines come with yard and organisation. A mark already reached gives three times the day on which it
    was: of the first counted reading at or beyond its hours, or its own date, whichever came first.
    correction: what earlier projections of the organisation taught, see fleet.usage.calibration.
    """
    if not marks:
        return []
    machines = {machine.pk: machine for machine, _ in marks}
    learned = learn(machines.values(), now=now)
    local = {pk: now.astimezone(machine.zoneinfo) for pk, machine in machines.items()}
    timed = np.array([mark.hours is not None for _, mark in marks])
    ahead = crossings(
        learned,
        [(machine, machine.hours + 1 if mark.hours is None else mark.hours) for machine, mark in marks],
    )
    ahead = calibration.correct(ahead, correction)
    clock = np.array([_clock(local[machine.pk]) for machine, _ in marks])
    calendar = np.array(
        [(mark.on - local[machine.pk].date()).days if mark.on else np.inf for machine, mark in marks]
    )
    ahead = crossing.Crossing(*(np.where(timed, np.floor(clock + quantile), np.inf) for quantile in ahead))
    whole_days = np.transpose(crossing.earlier_of(ahead, calendar))
    found = []
    for position, (machine, mark) in enumerate(marks):
        today = local[machine.pk].date()
        if (mark.hours is not None and machine.hours >= mark.hours) or calendar[position] <= 0:
            since = _reached_on(machine, mark, learned, today)
            found.append(Days(since, since, since))
        else:
            found.append(Days(*(_date(today, count) for count in whole_days[position])))
    return found


def _kin(machines: Collection[Machine]) -> tuple[dict[int, int], bool]:
    """The machines to learn from, by id, with their types; and whether they are all there are."""
    asked = {machine.pk: machine.type_id for machine in machines}
    others = list(Machine.objects.in_service().order_by("pk").values_list("pk", "type_id"))
    if len(others) <= WHOLE:
        return asked | dict(others), True
    for kind in sorted(set(asked.values())):
        asked |= dict(islice(((pk, of) for pk, of in others if of == kind), KIN))
    return asked, False


def _readings(number: dict[int, int], attachments: Collection[int], now: datetime) -> Readings:
    since = now - HISTORY
    rows = list(
        Reading.objects.counted()
        .filter(machine__in=list(number), taken_at__gt=since, taken_at__lte=now)
        .order_by("machine", "taken_at", "pk")
        .values_list("machine", "taken_at", Cast("hours", FloatField()), "segment")
    )
    if attachments:  # their mountings stand where others have meter segments; no attachment has both
        points = mounted.histories(attachments, until=now)
        rows += [(pk, at, float(hours), mounting) for pk, at, hours, mounting in points if at > since]
        rows.sort(key=itemgetter(0))  # a stable sort: in time order within a machine
    columns = list(zip(*rows, strict=True)) or [(), (), (), ()]
    return Readings(
        machine=np.array([number[pk] for pk in columns[0]], np.int64),
        day=np.array([_day(moment) for moment in columns[1]], float),
        hours=np.array(columns[2], float),
        segment=np.array(columns[3], np.int64),
    )


def _day(moment: datetime) -> float:
    return (moment - EPOCH) / DAY


def _clock(moment: datetime) -> float:
    """Local time of day, as a share of a day."""
    return (moment.hour * 3600 + moment.minute * 60 + moment.second) / 86400


def _date(today: date, count: float) -> date | None:
    return today + timedelta(days=int(count)) if count <= crossing.HORIZON else None


def _reached_on(machine: Machine, mark: Mark, learned: Learned, today: date) -> date:
    reached = [mark.on] if mark.on and mark.on <= today else []
    if mark.hours is not None and machine.hours >= mark.hours:
        readings, number = learned.readings, learned.number[machine.pk]
        low, high = np.searchsorted(readings.machine, [number, number + 1])
        beyond = np.flatnonzero(readings.hours[low:high] >= float(mark.hours))
        moment = EPOCH + readings.day[low + beyond[0]] * DAY if beyond.size else machine.hours_at
        reached.append(machine.today(moment) if moment else today)
    return min(reached)
