"""The time strip: each machine a row, each stop a smear from early to late with a tick at likely.

Positions run along x in per cent of the strip's width and along y in pixels, so that text keeps its size
on a phone.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.utils.translation import gettext as _

from fleet.core.wording import exact
from fleet.models import Booking, Hire, Machine
from servicing.models import Duty, WorkOrder
from servicing.web.charts.axis import Scale, calendar_days
from servicing.web.stops import Stop, by_machine, stops

HEAD = 28
ROW = 56
LABEL_Y = 20
BAR_Y = 29
BAR_HEIGHT = 18
TODAY_WORD = 14  # per cent of a phone's strip that the word Today takes
ROOM, LETTER = 288, 9.0  # pixels: of the strip and of a letter of its words, where a page is 320 wide
NEAREST = 7.5  # per cent of a desk's strip that the word Today takes
LEAD = 0.06  # the part of the strip before today, where what is overdue stands


@dataclass(frozen=True)
class Span:
    """A stretch of the strip, `x` and `width` in per cent."""

    x: float
    width: float
    title: str


@dataclass(frozen=True)
class Day:
    """A day of the calendar. `near`: so soon after today that on a phone the two words would run together."""

    x: float
    title: str
    year: str
    near: bool


@dataclass(frozen=True)
class Smear:
    """A stop's days: from early to late, with a tick at likely where it is in sight.

    `again`: all of it comes round again; then the tick stands alone, lest the smears run into one.
    """

    stop: Stop
    x: float
    width: float
    tick: float | None
    again: bool = False


@dataclass(frozen=True)
class Lane:
    """One machine's line; y values in pixels from the top of the strip."""

    machine: Machine
    y: int
    smears: list[Smear]
    bookings: list[Span]
    hires: list[Span]
    orders: list[Span]

    @property
    def label_y(self) -> int:
        """Where the machine's name stands."""
        return self.y + LABEL_Y

    @property
    def bar_y(self) -> int:
        """Where its bars begin."""
        return self.y + BAR_Y

    @property
    def tick_from(self) -> int:
        """The upper end of a tick."""
        return self.bar_y - 3

    @property
    def tick_to(self) -> int:
        """The lower end of a tick."""
        return self.bar_y + BAR_HEIGHT + 3

    @property
    def likely(self) -> date | None:
        """The first likely day on it."""
        return min(
            (smear.stop.first.likely for smear in self.smears if smear.stop.first.likely), default=None
        )

    @property
    def overdue(self) -> bool:
        """Whether something on it is overdue."""
        return any(smear.stop.overdue for smear in self.smears)


@dataclass(frozen=True)
class Strip:
    """The whole picture."""

    rows: list[Lane]
    days: list[Day]
    today_x: float
    height: int
    bar_height: int = BAR_HEIGHT

    @property
    def comes_again(self) -> bool:
        """Whether something on it comes round again in sight."""
        return any(smear.again for row in self.rows for smear in row.smears)


def draw(
    *,
    machines: Iterable[Machine],
    duties: Iterable[Duty],
    hires: Iterable[Hire],
    bookings: Iterable[Booking],
    orders: Iterable[WorkOrder],
    today: date,
    days: int,
) -> Strip:
    """Lay out the strip from today over so many days, the machines in the order given."""
    axis = _Axis(today, days)
    of_machine: dict[int, _Bars] = defaultdict(_Bars)
    for group in by_machine(duties):
        of_machine[group.machine.pk].smears.extend(_smear(stop, axis) for stop in stops(group.duties, today))
    for hire in hires:
        until, said = hire.due_back_on or today, _("Out to {hirer}").format(hirer=hire.hirer)
        of_machine[hire.machine_id].hires.append(
            axis.span(hire.out_at.date(), max(until, today) + timedelta(days=1), said)
        )
    for booking in bookings:
        if booking.first_on <= axis.end:
            of_machine[booking.machine_id].bookings.append(
                axis.span(max(booking.first_on, today), booking.last_on + timedelta(days=1), _words(booking))
            )
    for order in orders:
        if order.planned_for:
            of_machine[order.machine_id].orders.append(
                axis.span(order.planned_for, order.planned_for + timedelta(days=1), str(order))
            )
    rows = [
        Lane(machine, HEAD + n * ROW, bars.smears, bars.bookings, bars.hires, bars.orders)
        for n, machine in enumerate(machines)
        for bars in [of_machine[machine.pk]]
    ]
    return Strip(rows, axis.days(), axis.x(today), HEAD + len(rows) * ROW)


@dataclass(frozen=True)
class _Bars:
    """What lies on one machine's row."""

    smears: list[Smear] = field(default_factory=list)
    bookings: list[Span] = field(default_factory=list)
    hires: list[Span] = field(default_factory=list)
    orders: list[Span] = field(default_factory=list)


def _words(booking: Booking) -> str:
    said = _("Booked for {customer}, {hours} h a day")
    return said.format(customer=booking.what, hours=exact(booking.hours_a_day))


def _smear(stop: Stop, axis: "_Axis") -> Smear:
    duty = stop.first
    if stop.overdue or duty.early is None:
        return Smear(stop, 0, axis.x(axis.today), None)
    end = duty.late + timedelta(days=1) if duty.late else axis.end
    span = axis.span(duty.early, end, "")
    tick = axis.x(duty.likely) if duty.likely and duty.likely <= axis.end else None
    return Smear(stop, span.x, span.width, tick, again=all(each.pk is None for each in stop.duties))


class _Axis:
    """Days to per cent."""

    def __init__(self, today: date, days: int) -> None:
        self.today = today
        self.end = today + timedelta(days=days)
        self._across = Scale(-days * LEAD / (1 - LEAD), days, 0, 100)

    def x(self, day: date) -> float:
        return self._across((day - self.today).days)

    def span(self, start: date, end: date, title: str) -> Span:
        x = self.x(start)
        return Span(x, round(max(self.x(end) - x, 0.8), 2), title)

    def days(self) -> list[Day]:
        """Days of the calendar that stand clear of the word Today, and so that none is cut at the end."""
        named = calendar_days(self.today, self.end - timedelta(days=1), room=ROOM, letter=LETTER)
        placed = [(self.x(each.day), each) for each in named]
        return [
            Day(x, each.words, each.year, near=x < 100 * LEAD + TODAY_WORD)
            for x, each in placed
            if 100 * LEAD + NEAREST <= x <= 100 - 100 * (len(each.words) + 0.5) * LETTER / ROOM
        ]
