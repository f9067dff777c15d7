"""Figures of a file that its own other figures contradict: told before any of them counts.

The door judges a reading by those before it; a first figure with a digit too many would shut out all that is
right after it. Here the whole course of a machine speaks: what stands on none of the longest courses that a
meter can run is no reading.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise

from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.number_reader import POINT
from fleet.imports.cell_values import Wrong, read_number
from fleet.imports.column_mapping import days_of, moment_of
from fleet.imports.evidence import goes_on
from fleet.imports.fleet import Fleet, Known
from fleet.imports.plan import Plan
from fleet.imports.table import FileRow

Key = tuple[str, int, int]  # of a row: sheet, line, place
WINDOW = 60  # figures back with which one is compared where a course breaks
MOST_COLUMNS = 8  # beside the meter's that may be swapped with it
RISING = 0.6  # the share of its steps from which another column is a counter
YEARS = timedelta(days=730)  # alone before all other readings of a machine
SLOWER = 50  # times, by which a meter ran over such years, than it does


@dataclass(slots=True)
class Point:
    """One figure of a machine. key: None for what is kept. others: figures of further columns."""

    at: datetime
    shows: Decimal
    key: Key | None
    others: dict[int, Decimal] | None = None


def contradicted(rows: Iterable[FileRow], doubts: Mapping[Key, str]) -> Iterator[FileRow]:
    """The rows, those that are in doubt with the reason."""
    for row in rows:
        doubt = doubts.get(_key(row), "")
        yield replace(row, wrong=doubt) if doubt and not row.wrong else row


def doubts_of(rows: Callable[[], Iterable[FileRow]], plan: Plan, fleet: Fleet) -> dict[Key, str]:
    """Why rows of these can't be readings, by the other rows of their machine.

    rows: gives them from the first; a second time where a machine's figures don't follow each other, for what
    stands in further columns then.
    """
    courses = _courses(rows(), plan, fleet)
    for course in courses.values():
        course.sort(key=lambda point: (point.at, point.shows))
    broken = [course for course in courses.values() if not _all_follow(course)]
    counters = _counters(broken, rows(), plan) if broken else set()
    found: dict[Key, str] = {}
    for machine, course in courses.items():
        swapped = _swapped(course, counters) if counters else {}
        found |= swapped
        left = [point for point in course if point.key not in swapped]
        found |= _against(machine, left)
    return found


def _key(row: FileRow) -> Key:
    return row.sheet, row.line, row.place


def _courses(rows: Iterable[FileRow], plan: Plan, fleet: Fleet) -> dict[Known, list[Point]]:
    courses: dict[Known, list[Point]] = defaultdict(list)
    latest = timezone.now() + timedelta(days=1)
    days = days_of(plan)
    for row in rows:
        told = moment_of(row, plan, days, fleet)
        if told is None or not isinstance(told[0], Known) or told[1] > latest:
            continue
        with suppress(Wrong):
            shows = read_number(plan.cell(row, "hours"), plan.decimal or POINT, **plan.parts(row))
            if shows >= 0:
                courses[told[0]].append(Point(told[1], shows, _key(row)))
    return courses


def _counters(courses: Iterable[list[Point]], rows: Iterable[FileRow], plan: Plan) -> set[int]:
    """The further columns that hold counters: their figures seldom fall. The points get their figures."""
    points = {point.key: point for course in courses for point in course}
    mine = {plan.machine, plan.taken_at, plan.hours, plan.time, plan.note, plan.minutes, plan.tenths}
    columns: set[int] = set()
    for row in rows:
        if (point := points.get(_key(row))) is None:
            continue
        point.others = {}
        for place, cell in enumerate(row.cells):
            if place in mine or (place not in columns and len(columns) >= MOST_COLUMNS):
                continue
            with suppress(Wrong):
                point.others[place] = read_number(cell, plan.decimal or POINT)
                columns.add(place)
    steps: dict[int, list[bool]] = defaultdict(list)
    for course in courses:
        for before, after in pairwise(sorted(course, key=lambda point: point.at)):
            was, now = before.others or {}, after.others or {}
            for place in was.keys() & now.keys():
                steps[place].append(now[place] >= was[place])
    return {place for place, rose in steps.items() if sum(rose) >= RISING * len(rose)}


def _swapped(course: list[Point], counters: set[int]) -> dict[Key, str]:
    """Rows in which two counters stand in each other's column: each goes on from where the other was."""
    found: dict[Key, str] = {}
    before: Point | None = None
    for point in course:
        if before is None:
            before = point
            continue
        was_beside, beside = before.others or {}, point.others or {}
        for place in counters & was_beside.keys() & beside.keys():
            was, now = was_beside[place], beside[place]
            if before.shows <= now < was <= point.shows and goes_on(before.at, before.shows, point.at, now):
                said = _(
                    "Two columns seem to be swapped here: {other} would go on from {before}, not {shows}."
                )
                shown = {"other": f"{now:f}", "before": f"{before.shows:f}", "shows": f"{point.shows:f}"}
                if point.key is not None:
                    found[point.key] = said.format(**shown)
                break
        else:
            before = point
    return found


def _against(machine: Known, course: list[Point]) -> dict[Key, str]:
    """The figures of a machine that its others contradict."""
    new = machine.last_at is None
    if machine.last_at is not None and course and machine.last_at <= course[0].at:
        course = [Point(machine.last_at, machine.last, None), *course]
    if _all_follow(course):
        return _stood_still(machine, course) if new else {}
    through = _longest_through(course)
    longest = max(through)
    if longest == 1 and new:
        said = _("{machine}: {shows} and {other} can't both be right, and nothing tells which is.")
        others = [*course[1:], course[0]]
        return _said(said, machine, zip(course, others, strict=True))
    told = [point for point, many in zip(course, through, strict=True) if many == longest]
    doubted: list[tuple[Point, Point]] = []
    for before, run, after in _runs(course, [many == longest for many in through]):
        if before is None:
            doubt = len(run) == 1 and new and longest > 1
        else:  # one that doesn't even follow what came before is held at the door
            doubt = 2 * len(run) <= len(told) and _follows(before, run[0])
        if doubt:
            doubted += [(point, after) for point in run]
    said = _("{machine}: {shows} doesn't fit {other}, and the file's other readings do.")
    found = _said(said, machine, doubted)
    return found | (_stood_still(machine, told) if new else {})


def _runs(course: list[Point], sound: list[bool]) -> Iterator[tuple[Point | None, list[Point], Point]]:
    """Figures in a row that stand on no longest course, between the sound ones before and after them."""
    run: list[Point] = []
    before: Point | None = None
    for point, good in zip(course, sound, strict=True):
        if not good:
            run.append(point)
            continue
        if run:
            yield before, run, point
        run, before = [], point


def _longest_through(course: list[Point]) -> list[int]:
    """Of each figure how many the longest course through it has."""
    count = len(course)
    before, after = [1] * count, [1] * count
    for at in range(count):
        for earlier in range(max(0, at - WINDOW), at):
            if before[earlier] >= before[at] and _follows(course[earlier], course[at]):
                before[at] = before[earlier] + 1
    for at in reversed(range(count)):
        for later in range(at + 1, min(count, at + WINDOW + 1)):
            if after[later] >= after[at] and _follows(course[at], course[later]):
                after[at] = after[later] + 1
    return [here + there - 1 for here, there in zip(before, after, strict=True)]


def _stood_still(machine: Known, course: list[Point]) -> dict[Key, str]:
    """A first figure years before all others of a machine whose meter hardly moved meanwhile."""
    if len(course) < 3 or course[1].at - course[0].at < YEARS:
        return {}
    first, second, last = course[0], course[1], course[-1]
    ran, then = float(last.shows - second.shows), float(second.shows - first.shows)
    days, years = (last.at - second.at).total_seconds(), (second.at - first.at).total_seconds()
    if days <= 0 or SLOWER * then / years >= ran / days:
        return {}
    said = _("{machine}: {shows} is dated years before {other}, and hardly less. Is the year right?")
    return _said(said, machine, [(first, second)])


def _said(said: str, machine: Known, pairs: Iterable[tuple[Point, Point]]) -> dict[Key, str]:
    return {
        point.key: said.format(machine=machine.tag, shows=f"{point.shows:f}", other=f"{other.shows:f}")
        for point, other in pairs
        if point.key is not None
    }


def _all_follow(course: list[Point]) -> bool:
    return all(_follows(before, after) for before, after in pairwise(course))


def _follows(before: Point, after: Point) -> bool:
    return goes_on(before.at, before.shows, after.at, after.shows)
