"""What is known of the days ahead of machines: out of use, out on hire, booked, and holidays of the yard.

One query for each kind of thing, however many machines. Where several hold on a day the first of these does:

1. tagged out or in the shop: nothing runs; until the end of today, since nobody has said how long it will
   take, and each night looks again;
2. out on hire: the hours a day that were given at the gate, else the guess, until it is due back;
3. a day for which an order of half a day's work or more is planned: nothing runs;
4. booked for a hire or a job: its hours a day; whoever books over a holiday means it;
5. a holiday of the yard: nothing runs.

An attachment's days are those of the machine it hangs on, and its own tag-outs.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

import numpy as np
from django.db.models import Q, Sum

from fleet.models import Booking, Hire, Holiday, Machine, Mounting, TagOut
from fleet.usage.crossing import HORIZON
from fleet.usage.days import DAY
from fleet.usage.scheduled_days import ScheduledHours, layered
from servicing.models import WorkOrder

OUT_OF_USE, ON_HIRE, PLANNED, BOOKED, HOLIDAY = range(5)
BACK = timedelta(days=92)  # what ran longer ago has been read by now
HALF_A_DAY = 240  # minutes of work
NOBODY_KNOWS = float("nan")


class Stay(NamedTuple):
    """What is known of a machine between two moments or days; a last day is included. end None: today."""

    machine: int
    begin: date | datetime
    end: date | datetime | None
    hours: float
    rank: int


class Clock(NamedTuple):
    """A yard's day, and how much of it has gone."""

    now: datetime
    today: date
    gone: float

    def start(self, at: date | datetime) -> float:
        """Days from now until a moment, or until a day begins."""
        if isinstance(at, datetime):
            return (at - self.now) / DAY
        return (at - self.today).days - self.gone

    def end(self, at: date | datetime | None) -> float:
        """Days from now until a moment, or until a day ends."""
        return self.start(at) if isinstance(at, datetime) else self.start(at or self.today) + 1


def known_days(
    machines: Iterable[Machine], *, number: Mapping[int, int], now: datetime
) -> ScheduledHours | None:
    """Return what is known of these machines' days, as `fleet.usage` takes it; None where nothing is.

    number: each machine's place in the arrays, by id. Machines come with yard and organisation. Needs the
    organisation's scope; six queries at most.
    """
    asked = list(machines)
    clocks = _clocks(asked, now)
    concerned = _concerned(asked)
    rows = [
        (number[each.pk], clock.start(stay.begin), clock.end(stay.end), stay.hours, stay.rank)
        for stay in _stays(asked, list(concerned), now)
        for each in concerned.get(stay.machine, ())
        for clock in [clocks[each.yard_id]]
    ]
    columns = [np.array(column, float) for column in zip(*rows, strict=True)] or [np.zeros(0)] * 5
    columns = [
        np.concatenate(pair) for pair in zip(columns, _holidays(asked, clocks, number, now), strict=True)
    ]
    if not len(columns[0]):
        return None
    of, start, end, hours, rank = columns
    return layered(machine=of, start=start, end=np.minimum(end, 2 * HORIZON), hours=hours, rank=rank)


def _clocks(machines: Iterable[Machine], now: datetime) -> dict[int, Clock]:
    found: dict[int, Clock] = {}
    for machine in machines:
        if machine.yard_id not in found:
            local = now.astimezone(machine.zoneinfo)
            midnight = datetime.combine(local.date(), time(), local.tzinfo)
            found[machine.yard_id] = Clock(now, local.date(), (local - midnight) / DAY)
    return found


def _concerned(machines: Iterable[Machine]) -> dict[int, list[Machine]]:
    """The machines asked for whose days are those of a machine, by its id: itself and what hangs on it."""
    found = defaultdict(list, {machine.pk: [machine] for machine in machines})
    attachments = {machine.pk: machine for machine in machines if machine.is_attachment}
    if attachments:
        hung = Mounting.objects.open().filter(attachment__in=attachments)
        for attachment, host in hung.values_list("attachment", "machine"):
            found[host].append(attachments[attachment])
    return dict(found)


def _stays(machines: Iterable[Machine], ids: list[int], now: datetime) -> Iterator[Stay]:
    since = now - BACK
    for machine in machines:
        if machine.in_shop_since and machine.in_shop_since <= now:
            yield Stay(machine.pk, machine.in_shop_since, None, 0.0, OUT_OF_USE)
    tagged = TagOut.objects.filter(
        Q(cleared_at=None) | Q(cleared_at__gt=since), placed_at__lte=now, machine__in=ids
    )
    for pk, placed, cleared in tagged.values_list("machine", "placed_at", "cleared_at"):
        yield Stay(pk, placed, cleared, 0.0, OUT_OF_USE)
    out = Hire.objects.open().filter(out_at__lte=now, machine__in=ids)
    for pk, at, back_on, hours in out.values_list("machine", "out_at", "due_back_on", "hours_a_day"):
        late = back_on is None or back_on < (now - DAY).date()
        yield Stay(
            pk, at, None if late else back_on, NOBODY_KNOWS if hours is None else float(hours), ON_HIRE
        )
    yield from _orders(ids, since, now)
    booked = Booking.objects.standing().from_day(since.date()).filter(made_at__lte=now, machine__in=ids)
    for pk, first, last, hours in booked.values_list("machine", "first_on", "last_on", "hours_a_day"):
        yield Stay(pk, first, last, float(hours), BOOKED)


def _orders(ids: list[int], since: datetime, now: datetime) -> Iterator[Stay]:
    """Days planned for work, and stays in the shop that have ended."""
    planned = Q(state=WorkOrder.State.PLANNED, planned_for__gte=(now - DAY).date(), minutes__gte=HALF_A_DAY)
    ended = Q(closed_at__gt=since) | Q(cancelled_at__gt=since)
    orders = WorkOrder.objects.filter(machine__in=ids).annotate(minutes=Sum("lines__task__minutes"))
    columns = ("machine", "planned_for", "started_at", "closed_at", "cancelled_at")
    for pk, on, started, closed, cancelled in orders.filter(
        planned | ended & Q(started_at__isnull=False)
    ).values_list(*columns):
        if started:
            yield Stay(pk, started, closed or cancelled, 0.0, OUT_OF_USE)
        else:
            yield Stay(pk, on, on, 0.0, PLANNED)


def _holidays(
    machines: Iterable[Machine], clocks: Mapping[int, Clock], number: Mapping[int, int], now: datetime
) -> list[np.ndarray]:
    """The holidays of each machine's yard, as the five columns of the rows above."""
    standing = defaultdict(list)
    for machine in machines:
        standing[machine.yard_id].append(number[machine.pk])
    holidays = list(Holiday.objects.from_day((now - BACK).date()).values_list("yard", "first_on", "last_on"))
    columns: list[list[np.ndarray]] = [[np.zeros(0)] for _ in range(5)]
    for yard, places in standing.items():
        own = [(first, last) for of, first, last in holidays if of in (None, yard)]
        begin = [clocks[yard].start(first) for first, _ in own]
        end = [clocks[yard].end(last) for _, last in own]
        length = len(places) * len(own)
        rows = (
            np.repeat(np.array(places, float), len(own)),
            np.tile(np.array(begin, float), len(places)),
            np.tile(np.array(end, float), len(places)),
            np.zeros(length),
            np.full(length, float(HOLIDAY)),
        )
        for column, values in zip(columns, rows, strict=True):
            column.append(values)
    return [np.concatenate(column) for column in columns]
