"""Which column holds what: guessed by what its cells hold against what the machines showed before.

A heading alone settles it only where it can mean nothing else; of two possible columns none is chosen.
"""

import re
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, time

from django.utils import timezone

from fleet.core.number_reader import COMMA, POINT
from fleet.imports.cell_days import DAY_FIRST, LAST_DAY, MONTH_FIRST, Days, read_moment
from fleet.imports.cell_values import Wrong, read_clock, read_number
from fleet.imports.columns import Column, columns, is_number
from fleet.imports.evidence import Figure, Weighed, weigh
from fleet.imports.find_layout import machine_column
from fleet.imports.fleet import Fleet, Known
from fleet.imports.habits import Habit, decimals, orders
from fleet.imports.headings import (
    DAY,
    HOURS,
    IGNORED,
    METER,
    MINUTES,
    NOTE,
    OTHER_DAY,
    READ_DAY,
    TENTHS,
    TIME,
)
from fleet.imports.layout import Layout
from fleet.imports.plan import Plan
from fleet.imports.table import Cell, FileRow, as_text
from fleet.imports.units import is_other, unit_column
from fleet.readings.submission import YEARS

TIME_OF_DAY = re.compile(r"(?:[01]?\d|2[0-3]):[0-5]\d")
ENOUGH = 0.5  # the share of a column's cells that can be read as what it is taken for


def guess(sample: Sequence[FileRow], *, fleet: Fleet, layout: Layout, habit: str = "") -> Plan:
    """Guess how a file is read from its first ordinary rows.

    habit: the order of day and month that the organisation uses, taken where the dates don't tell.
    """
    heading = bool(layout.names)
    places = layout.places()
    found = [
        column
        for column in columns(sample, heading=heading)
        if not (heading and column.head in IGNORED) and column.place not in places.values()
    ]
    machine = places.get("machine")
    if machine is None and (named := machine_column(found, fleet)) is not None:
        machine = named.place
    found = [column for column in found if column.place != machine]
    taken_at = places.get("taken_at")
    day = None if taken_at is not None else day_column(found)
    dates = [] if taken_at is not None else _day_columns(found)
    rest = [column for column in found if column not in dates]
    plan = Plan(
        machine=machine,
        taken_at=day.place if day else taken_at,
        hours=None,
        time=_headed_times(rest) if heading else _only_times(rest),
        note=_headed(rest, NOTE),
        unit=unit_column(rest),
        heading=heading,
        layout=None if layout.is_plain else layout,
    )
    body = sample[heading:]
    plan = learn_habits(plan, body, habit=habit)
    able = [column for column in rest if column.place not in (plan.time, plan.note, plan.unit)]
    if layout.groups:  # the shared columns of a line hold none of its several readings
        able = [column for column in able if column.place >= len(layout.keys)]
    meter = MeterColumn(plan, body, able, fleet)
    plan = replace(plan, hours=meter.chosen, between=meter.between, against=meter.against)
    if plan.hours is not None:
        plan = replace(
            plan, minutes=_minutes_beside(rest, plan.hours), tenths=_tenths_beside(rest, plan.hours)
        )
    return learn_habits(plan, body, habit=habit)


def learn_habits(plan: Plan, rows: Iterable[FileRow], *, habit: str = "") -> Plan:
    """Return the plan with the order of dates and the decimal mark that all these rows tell.

    habit: the order that the organisation uses, taken where the dates don't tell. '' stays where a person has
    to say.
    """
    order, decimal = orders(), decimals()
    for row in rows:
        hear(plan, row, order, decimal)
    return learned(plan, order, decimal, habit)


def hear(plan: Plan, row: FileRow, order: Habit, decimal: Habit) -> None:
    """Take a row into account for how the file is written."""
    if not row.wrong:
        order.hear(plan.cell(row, "taken_at"))
        decimal.hear(plan.cell(row, "hours"))


def learned(plan: Plan, order: Habit, decimal: Habit, habit: str) -> Plan:
    """The plan with what was heard."""
    return replace(plan, order=order.told(habit), mixed=order.mixed, decimal=decimal.told())


def day_column(found: Sequence[Column]) -> Column | None:
    """The column of the days on which meters were read; None where there is none, or several may be it."""
    dates = _day_columns(found) or [column for column in found if DAY in column.kinds]
    if len(dates) == 1:
        (only,) = dates
        return None if only.alike or OTHER_DAY.search(only.head) else only
    headed = [column for column in dates if DAY in column.kinds and not OTHER_DAY.search(column.head)]
    reading = [column for column in headed if READ_DAY.search(column.head)]
    for few in (reading, headed):
        if len(few) == 1 and not any(column.head == "" for column in dates):
            return few[0]
    return None


def figures(plan: Plan, rows: Sequence[FileRow], fleet: Fleet) -> list[Figure]:
    """What the rows say, as far as it can be read, whichever questions are open."""
    return _figures(plan, rows, moments(plan, rows, fleet))


def moments(plan: Plan, rows: Sequence[FileRow], fleet: Fleet) -> list[tuple[Known | str, datetime] | None]:
    """Of each row the machine, and when it was read; None where that can't be told."""
    days = days_of(plan)
    return [moment_of(row, plan, days, fleet) for row in rows]


def days_of(plan: Plan) -> Days:
    """How a file's days are written, whichever questions are open."""
    year = plan.year or timezone.now().year
    return Days(plan.order or DAY_FIRST, year, plan.within or LAST_DAY, plan.mixed)


def moment_of(row: FileRow, plan: Plan, days: Days, fleet: Fleet) -> tuple[Known | str, datetime] | None:
    """The machine of a row, and when it was read; None where that can't be told."""
    name = as_text(plan.cell(row, "machine"))
    if not name or row.wrong or is_other(plan.unit_of(row)):
        return None
    machine = machine_of(plan, name, fleet)
    with suppress(Wrong, ValueError):
        zone = machine.zone if machine else UTC
        at = read_moment(plan.cell(row, "taken_at"), plan.cell(row, "time"), days, zone)
        if at.year in YEARS:
            return machine or name.lower(), at
    return None


def _figures(
    plan: Plan, rows: Sequence[FileRow], when: Sequence[tuple[Known | str, datetime] | None]
) -> list[Figure]:
    found = []
    for row, told in zip(rows, when, strict=True):
        if told is None:
            continue
        with suppress(Wrong):
            shows = read_number(plan.cell(row, "hours"), plan.decimal or POINT, **plan.parts(row))
            if shows >= 0:
                found.append(Figure(*told, shows))
    return found


def machine_of(plan: Plan, name: str, fleet: Fleet) -> Known | None:
    """The machine that a name means, as the file names it: in a column, or in words above its rows."""
    if plan.layout is not None and plan.layout.names_machine:
        return fleet.named_in(name)
    return fleet.find(name)


class MeterColumn:
    """Which column is the hour meter. chosen: None where that has to be asked; between: which may be it.

    against: those of them that are headed as hours, but don't go on from what the machines showed.
    """

    def __init__(self, plan: Plan, rows: Sequence[FileRow], found: Sequence[Column], fleet: Fleet) -> None:
        self._plan, self._rows = plan, rows
        orders = (plan.order,) if plan.order else (DAY_FIRST, MONTH_FIRST)
        self._moments = [moments(replace(plan, order=order), rows, fleet) for order in orders]
        numbers = [
            column for column in found if column.numbers >= ENOUGH and not column.kinds & {MINUTES, TENTHS}
        ]
        numbers = numbers or [
            column for column in found if HOURS in column.kinds
        ]  # of which none can be read
        self.weighed = {column.place: self._weigh(column) for column in numbers}
        able = [column for column in numbers if not column.alike]
        strong = [column for column in able if METER in column.kinds]
        chosen = self._of_meters(strong) if strong else self._of_others(able)
        self.chosen = chosen.place if chosen else None
        against = [column for column in able if self._is_against(column)]
        likely = [column for column in numbers if self.weighed[column.place].may_be or column in against]
        self.between = () if chosen else tuple(column.place for column in likely or numbers)
        self.against = () if chosen else tuple(column.place for column in against)

    def _of_meters(self, strong: Sequence[Column]) -> Column | None:
        """Of columns that are headed as hour meters: the one that can be it."""
        able = [column for column in strong if not self.weighed[column.place].contradicts]
        return able[0] if len(able) == 1 else None

    def _of_others(self, able: Sequence[Column]) -> Column | None:
        """Of columns whose headings say little or nothing: the only one that goes on as the machines did."""
        can = [column for column in able if self._can_be(column)]
        if len(can) == 1:
            return can[0]
        headed = [column for column in can if HOURS in column.kinds]
        others = [column for column in can if column not in headed]
        if len(headed) == 1 and not any(not column.kinds for column in others):
            return headed[0]
        return None

    def _is_against(self, column: Column) -> bool:
        return bool(column.kinds & {HOURS, METER}) and self.weighed[column.place].contradicts

    def _can_be(self, column: Column) -> bool:
        weighed = self.weighed[column.place]
        return weighed.may_be or (HOURS in column.kinds and not weighed.contradicts)

    def _weigh(self, column: Column) -> Weighed:
        """Weigh a column by each habit that is still open; the most favourable stands."""
        decimal = decimals()
        for cell in column.cells:
            decimal.hear(cell)
        marks = (decimal.told(),) if decimal.told() else (POINT, COMMA)
        plans = [replace(self._plan, hours=column.place, decimal=mark) for mark in marks]
        tries = [weigh(_figures(plan, self._rows, when)) for plan in plans for when in self._moments]
        return max(tries, key=lambda weighed: (weighed.fit, weighed.rising))


def _day_columns(found: Sequence[Column]) -> list[Column]:
    return [
        column
        for column in found
        if column.cells
        and (column.days >= ENOUGH or (DAY in column.kinds and column.days > 0))
        and _no_hours(column)
    ]


def _no_hours(column: Column) -> bool:
    """Whether a column of what may be days isn't headed as the meter."""
    return not column.kinds & {HOURS, METER}


def _only_times(found: Sequence[Column]) -> int | None:
    """The one column of a table without headings that holds times of day alone."""
    times = [column.place for column in found if column.cells and column.share(_is_time) == 1]
    return times[0] if len(times) == 1 else None


def _headed_times(found: Sequence[Column]) -> int | None:
    """The column headed as a time of day; one that holds other figures is none."""
    times = [
        column for column in found if TIME in column.kinds and (column.share(_is_clock) or not column.cells)
    ]
    return times[0].place if times else None


def _is_clock(cell: Cell) -> bool:
    with suppress(Wrong):
        return read_clock(cell) is not None
    return False


def _is_time(cell: Cell) -> bool:
    return isinstance(cell, time) or (isinstance(cell, str) and TIME_OF_DAY.fullmatch(cell) is not None)


def _headed(found: Sequence[Column], role: str) -> int | None:
    return next((column.place for column in found if role in column.kinds), None)


def _minutes_beside(found: Sequence[Column], hours: int) -> int | None:
    """The column of the minutes that belong to the hours at its left."""
    for column in found:
        if MINUTES in column.kinds and column.place == hours + 1 and column.share(_is_minutes) == 1:
            return column.place
    return None


def _tenths_beside(found: Sequence[Column], hours: int) -> int | None:
    """The column of the tenths of an hour at the right of the hours."""
    for column in found:
        if TENTHS in column.kinds and column.place == hours + 1:
            return column.place
    return None


def _is_minutes(cell: Cell) -> bool:
    text = as_text(cell)
    return is_number(cell) and text.isdigit() and int(text) < 60
