"""When a task falls due: every H hours and/or every M months, whichever comes first.

A *mark* is where a task falls due: total machine hours, a date, or both. The task is overdue from the
moment the hours reach `hours` or the day `on` begins. Hours are exact (Decimal); no rule here knows of clocks
or zones.

The line of fixed marks is what 14 CFR 91.409(b) asks of an aircraft's 100-hour inspection: hours run late
"must be included in computing the next 100 hours", and early work earns no credit. It is an aviation rule,
taken as a model; a rule may instead count from when the work was last done (anchor `done`).
"""

from calendar import monthrange
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum
from typing import TypeVar

from servicing.planning.language import gettext as _

ZERO = Decimal(0)
NORMAL = "normal"
AnyRule = TypeVar("AnyRule")


class Anchor(StrEnum):
    """What the next mark is counted from."""

    MARKS = "marks"
    DONE = "done"


DAILY_HOURS = Decimal(10)
INSPECT_WITHIN = timedelta(days=14)
"""How soon work of which nobody knows when it was last done is looked at. Ours, no source."""


@dataclass(frozen=True, slots=True)
class Mark:
    """Where a task falls due: at `hours` total machine hours, or from the day `on`, whichever comes first."""

    hours: Decimal | None = None
    on: date | None = None

    def is_reached(self, hours: Decimal, today: date) -> bool:
        """Whether a machine of so many total hours has reached it on that day."""
        return (self.hours is not None and hours >= self.hours) or (self.on is not None and today >= self.on)


@dataclass(frozen=True, slots=True)
class Limit:
    """The last total hours and the last day at which work is still in time; None where none is set."""

    hours: Decimal | None
    on: date | None

    def is_kept(self, done_hours: Decimal | None, done_on: date) -> bool:
        """Whether work was in time; hours that weren't written down are not held against it."""
        by_hours = self.hours is None or done_hours is None or done_hours <= self.hours
        return by_hours and (self.on is None or done_on <= self.on)


@dataclass(frozen=True, slots=True)
class Rule:
    """One interval.

    first_*               the first time (running-in); without it the first time is one whole period
    every_*               the period; without any the task is due once only
    early_window_hours    work at most this early still meets its fixed mark
    late_allowance_hours  work at most this late still counts as on time; it moves no mark
    to_month_end          months run to the end of the calendar month, as in 14 CFR 91.409(a)

    Raises ValueError for a rule that can't be followed.
    """

    first_hours: Decimal | None = None
    every_hours: Decimal | None = None
    first_months: int | None = None
    every_months: int | None = None
    anchor: str = Anchor.MARKS
    once: bool = False
    early_window_hours: Decimal = ZERO
    late_allowance_hours: Decimal = ZERO
    to_month_end: bool = False

    def __post_init__(self) -> None:
        periods = (self.every_hours, self.every_months)
        said = [value for value in (self.first_hours, self.first_months, *periods) if value is not None]
        if not said or min(said) <= 0:
            raise ValueError(_("an interval needs hours or months, each above zero"))
        if self.once == any(value is not None for value in periods):
            raise ValueError(_("a task is either due once only or has a period"))
        if self.early_window_hours < 0 or self.late_allowance_hours < 0:
            raise ValueError(_("a window or an allowance is never below zero"))
        if self.every_hours is not None and self.early_window_hours >= self.every_hours:
            raise ValueError(_("the early window must be shorter than the period"))
        if self.anchor not in tuple(Anchor):
            raise ValueError(f"anchor is {self.anchor!r}; it must be marks or done")

    @property
    def is_daily(self) -> bool:
        """Whether it comes round every ten hours or less: "10 hours or daily" at the head of makers' tables.

        Such work is the operator's round before the day's start. Common practice, no source.
        """
        return self.every_hours is not None and self.every_hours <= DAILY_HOURS


def choose(rules: Mapping[str, AnyRule], condition: str) -> AnyRule | None:
    """Return the rule for a working condition, else the normal one; None: not due in this condition."""
    return rules.get(condition, rules.get(NORMAL))


def first_mark(
    rule: Rule, *, in_service_on: date, hours_at_start: Decimal = ZERO, from_on: date | None = None
) -> Mark | None:
    """Return the first mark of a machine for which the task was never recorded as done.

    hours_at_start, from_on: total hours and the day when the machine came under the program; the day is
    `in_service_on` when left out. Marks up to then belong to the time before: a machine bought with 3,240 h
    gets its 100-hour work at 3,300 h, and a once-only running-in task that it has outrun is not due: None.
    """
    hours = _first_hours(rule, hours_at_start)
    on = _first_on(rule, in_service_on, max(in_service_on, from_on or in_service_on))
    if rule.once and _outrun(rule, hours, on):
        return None
    return _mark(hours, on)


def may_have_been_done(rule: Rule, *, in_service_on: date, hours_at_start: Decimal, from_on: date) -> bool:
    """Whether the first mark lay behind when the machine came under the program: then it was done before, or
    missed, and only somebody who knows can say which. The arguments are those of `first_mark`.
    """
    by_hours = rule.first_hours or rule.every_hours
    by_months = rule.first_months or rule.every_months
    return (by_hours is not None and by_hours <= hours_at_start) or (
        by_months is not None and _due_after(rule, in_service_on, by_months) <= from_on
    )


def next_mark(rule: Rule, due: Mark, done_hours: Decimal, done_on: date) -> Mark | None:
    """Return the mark after `due`, met by work at `done_hours` on the day `done_on`; None: finished for good.

    The hours asked for always lie beyond `done_hours`, the date beyond `done_on`. With anchor `marks`, work
    on time or late keeps to the line of marks and takes the first that still lies ahead; a mark at most the
    early window ahead counts as met by the same work. Work earlier than the window starts a new line there.
    After a first mark F (50, then every 100) the line is the multiples of the period beyond F.
    """
    if rule.once:
        return None
    return _mark(_next_hours(rule, due.hours, done_hours), _next_on(rule, due.on, done_on))


def last_in_time(due: Mark, late_allowance_hours: Decimal, *, to_month_end: bool) -> Limit:
    """Return how far work may go and still be in time: the allowance beyond the hours, and the day.

    A day that stands for the end of a month is the first of the next, one too late. Another day on a rule
    that runs to the month's end was brought forward and holds as it stands. Deferring work moves no mark.
    """
    hours = None if due.hours is None else due.hours + late_allowance_hours
    after_month_end = to_month_end and due.on is not None and due.on.day == 1
    return Limit(hours, due.on - timedelta(days=1) if due.on and after_month_end else due.on)


def add_months(day: date, months: int) -> date:
    """Return the same day so many months on, or that month's last day where it is shorter."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def _outrun(rule: Rule, hours: Decimal | None, on: date | None) -> bool:
    """Whether a first mark that the rule names lies behind."""
    return (rule.first_hours is not None and hours is None) or (rule.first_months is not None and on is None)


def _mark(hours: Decimal | None, on: date | None) -> Mark | None:
    return None if hours is None and on is None else Mark(hours, on)


def _first_hours(rule: Rule, start: Decimal) -> Decimal | None:
    first = rule.first_hours or rule.every_hours
    if first is None or first > start:
        return first
    return None if rule.every_hours is None else _multiple_after(rule.every_hours, start)


def _first_on(rule: Rule, in_service_on: date, start: date) -> date | None:
    first = rule.first_months or rule.every_months
    if first is None:
        return None
    on = _due_after(rule, in_service_on, first)
    if on > start:
        return on
    return None if rule.every_months is None else _date_after(on, rule.every_months, start)


def _next_hours(rule: Rule, due: Decimal | None, done: Decimal) -> Decimal | None:
    every = rule.every_hours
    if every is None:
        return None
    if rule.anchor == Anchor.DONE or due is None:
        return done + every
    was_first = rule.first_hours is not None and due == rule.first_hours
    if due - done > rule.early_window_hours:
        return min(done + every, _multiple_after(every, due)) if was_first else done + every
    met = max(due, done + rule.early_window_hours)
    return _multiple_after(every, met) if was_first else due + _multiple_after(every, met - due)


def _next_on(rule: Rule, due: date | None, done: date) -> date | None:
    if rule.every_months is None:
        return None
    if rule.anchor == Anchor.DONE or due is None or done < due:
        return _due_after(rule, done, rule.every_months)
    return _date_after(due, rule.every_months, done)


def _multiple_after(period: Decimal, hours: Decimal) -> Decimal:
    """The first multiple of the period beyond `hours`, which is not negative."""
    return period * (hours // period + 1)


def _due_after(rule: Rule, day: date, months: int) -> date:
    """The day on which the task falls due, so many months after work (or entry into service) on `day`."""
    due = add_months(day, months)
    return add_months(due.replace(day=1), 1) if rule.to_month_end else due


def _date_after(due: date, months: int, day: date) -> date:
    """The first date on the line due + k * months that lies after both `due` and `day`."""
    steps = max(1, ((day.year - due.year) * 12 + day.month - due.month) // months)
    while (on := add_months(due, steps * months)) <= day:
        steps += 1
    return on
