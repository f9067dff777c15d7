"""Measured values over machine hours: how each drifts, and which duty must be done earlier for it.

Reads the as-found and as-left values of closed orders, in whatever unit they were typed, and compares them in
the unit of the check as the program has it now. A check is the same while its task's and its own code stay,
whatever version of the program it was measured under. So every machine of a type has the same checks: what
they did tells how such a value wears, and how far off it was foretold.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_FLOOR, Decimal
from typing import Any

from django.db.models import Case, F, QuerySet, When, Window
from django.db.models.functions import RowNumber
from django.utils.translation import gettext

from fleet.core.errors import FleetError
from fleet.models import Machine
from fleet.usage.figures import TIGHT, grouped
from servicing.duties import accuracy, projection
from servicing.ledger.trend import Crossing, Outlook, Point, heads_for_limit, look, runs
from servicing.ledger.wear_path import Run
from servicing.measurements import limits
from servicing.models import Check, CheckResult, Duty, WorkOrder
from servicing.models.line import WORKED_ON
from servicing.planning.intervals import Mark

SOONEST = Decimal(10)
"""Hours after the last value before which no task is brought forward: a day's work. Our choice."""

KIN_VALUES = 400
"""So many values of a check, the latest of all machines, tell how it wears."""

CheckKey = tuple[int, str, str]
Key = tuple[int, int, str, str]
Measurement = tuple[Any, ...]


@dataclass(frozen=True)
class Series:
    """One measured check of one machine: its values in the check's own unit, and where they are heading."""

    check: Check
    points: tuple[Point, ...]
    outlook: Outlook

    @property
    def unit(self) -> str:
        """The unit of the values and the limits."""
        return limits.spelled(self.check.unit)

    def is_outside(self, value: float) -> bool:
        """Whether the value, in that unit, is outside the limits."""
        lower, upper = self.check.lower, self.check.upper
        return (lower is not None and value < float(lower)) or (upper is not None and value > float(upper))


@dataclass(frozen=True)
class Forward:
    """An earlier hour mark for a duty, the id of the check that asks for it, and why."""

    hours: Decimal
    check: int
    reason: str


def forward_marks(
    duties: Collection[tuple[Machine, Duty]], *, now: datetime
) -> dict[tuple[int, int], Forward]:
    """Return the earlier marks that drifting values ask for, by machine id and task id.

    Only where a limit is reached before the duty's own mark: its hours, and its date by the likely day of the
    crossing. Asks three queries at most, and two more where a date has to be compared.
    """
    found: dict[tuple[int, int], Forward] = {}
    of = {(duty.machine_id, duty.task_id): (machine, duty) for machine, duty in duties}
    for key, several in series(duty for _, duty in duties).items():
        earlier = [forward for each in several if (forward := _forward(each))]
        if earlier:
            first = min(earlier, key=lambda forward: forward.hours)
            mark = of[key][1].mark_hours
            if mark is None or first.hours < mark:
                found[key] = first
    dated = [key for key in found if of[key][1].mark_on]
    crossed = days([(of[key][0], found[key].hours) for key in dated], now=now)
    for key, (_, likely, _) in zip(dated, crossed, strict=True):
        mark_on = of[key][1].mark_on
        if likely is None or mark_on is None or likely >= mark_on:
            del found[key]
    return found


def series(duties: Iterable[Duty]) -> dict[tuple[int, int], list[Series]]:
    """Return the series of the duties' measured checks, by machine id and task id, in the program's order.

    A check that was never measured has a series without points. Asks two queries, and one more where a value
    heads for a limit: for the same check on other machines.
    """
    of = {(duty.machine_id, duty.task_id) for duty in duties}
    checks: dict[int, list[Check]] = defaultdict(list)
    asked = Check.objects.filter(task__in={task for _, task in of}, kind__in=Check.NUMERIC)
    for check in asked.select_related("task__version").order_by("position", "pk"):
        checks[check.task_id].append(check)
    measured = _of_machines([machine for machine, task in of if task in checks]) if checks else {}
    points = {
        (machine, check): _points(check, measured.get((machine, *_key(check)), []))
        for machine, task in of
        for check in checks.get(task, ())
    }
    heading = {check for (_, check), each in points.items() if heads_for_limit(each, **_bounds(check))}
    kin = _kin(heading) if heading else {}
    return {
        (machine, task): [
            _series(machine, check, points[machine, check], kin.get(check, ())) for check in checks[task]
        ]
        for machine, task in of
        if task in checks
    }


def days(crossings: Sequence[tuple[Machine, Decimal]], *, now: datetime) -> list[projection.Days]:
    """Return the days on which machines reach these hours, corrected as every other day we say is."""
    if not crossings:
        return []
    marks = [(machine, Mark(hours=hours)) for machine, hours in crossings]
    return projection.days(marks, now=now, correction=accuracy.correction())


def crossing_days(machine: Machine, crossings: Sequence[Crossing], *, now: datetime) -> list[projection.Days]:
    """Return the days of crossings: from the early day of the early hours to the late day of the late hours.

    That joins what is not known of the value's trend with what is not known of the machine's use, so it is
    wider than either.
    """
    asked = [
        (machine, Decimal(f"{hours:.1f}"))
        for crossing in crossings
        for hours in (crossing.early, crossing.hours, crossing.late)
    ]
    found = iter(days(asked, now=now))
    return [
        projection.Days(first.early, middle.likely, last.late)
        for first, middle, last in zip(found, found, found, strict=True)
    ]


def _of_machines(machines: Collection[int]) -> dict[Key, list[Measurement]]:
    """Every measured value of these machines, by check, in the order of hours."""
    return _by_check(_measured(on__in=set(machines)))


def _latest_of(checks: Collection[CheckKey]) -> dict[Key, list[Measurement]]:
    """The latest values of these checks on all machines, KIN_VALUES of each, in the order of hours."""
    programs, tasks, codes = zip(*checks, strict=True)
    place = Window(
        RowNumber(),
        partition_by=["check_made__task__version__program", "check_made__task__code", "check_made__code"],
        order_by=["-line__order__closed_at", "-pk"],
    )
    asked = _measured(
        check_made__task__version__program__in=set(programs),
        check_made__task__code__in=set(tasks),
        check_made__code__in=set(codes),
    )
    return _by_check(asked.annotate(place=place).filter(place__lte=KIN_VALUES))


def _measured(**asked: Any) -> QuerySet[Any]:
    """Measured values of closed orders, with the machine they were made `on` and `at` what hours of its."""
    closed_at = F("line__order__hours_at_close")
    return (
        CheckResult.objects.annotate(on=WORKED_ON)
        .annotate(  # an attachment's hours are not its host's, which the order was closed at
            at=Case(When(on=F("line__order__machine"), then=closed_at), default=F("line__done_hours"))
        )
        .filter(
            at__isnull=False,
            line__order__state=WorkOrder.State.CLOSED,
            kind__in=Check.NUMERIC,
            found_value__isnull=False,
            **asked,
        )
        .order_by("at", "pk")
    )


def _by_check(results: QuerySet[Any]) -> dict[Key, list[Measurement]]:
    """The values of each check of each machine."""
    rows = results.values_list(
        "on",
        "check_made__task__version__program_id",
        "check_made__task__code",
        "check_made__code",
        "at",
        "found_value",
        "found_unit",
        "left_value",
        "left_unit",
    )
    found: dict[Key, list[Measurement]] = defaultdict(list)
    for machine, program, task, check, *values in rows:
        found[machine, program, task, check].append(tuple(values))
    return found


def _key(check: Check) -> CheckKey:
    return check.task.version.program_id, check.task.code, check.code


def _bounds(check: Check) -> dict[str, float | None]:
    return {
        "lower": None if check.lower is None else float(check.lower),
        "upper": None if check.upper is None else float(check.upper),
    }


def _kin(checks: Collection[Check]) -> dict[Check, list[tuple[int, Run]]]:
    """The latest runs of each of these checks, in its unit, with their machines."""
    measured = _latest_of({_key(check) for check in checks})
    of = {_key(check): check for check in checks}
    found: dict[Check, list[tuple[int, Run]]] = defaultdict(list)
    for (machine, program, task, code), rows in measured.items():
        if check := of.get((program, task, code)):
            found[check].extend((machine, run) for run in runs(_points(check, rows)))
    return found


def _series(machine: int, check: Check, points: tuple[Point, ...], kin: Iterable[tuple[int, Run]]) -> Series:
    others = [run for other, run in kin if other != machine]
    return Series(check, points, look(points, kin=[*runs(points)[:-1], *others], **_bounds(check)))


def _points(check: Check, rows: Iterable[Measurement]) -> tuple[Point, ...]:
    return tuple(point for row in rows if (point := _point(check, row)))


def _point(check: Check, row: Measurement) -> Point | None:
    """A value in the check's unit; None where the check once measured something else."""
    hours, found, found_unit, left, left_unit = row
    try:
        return Point(
            hours=float(hours),
            found=_in_unit(found, found_unit, check.unit),
            left=None if left is None else _in_unit(left, left_unit, check.unit),
        )
    except FleetError:
        return None


def _in_unit(value: Decimal, unit: str, wanted: str) -> float:
    return float(value) if unit == wanted else float(limits.comparable(value, unit or wanted, wanted))


def _forward(each: Series) -> Forward | None:
    crossing = each.outlook.crossing
    if crossing is None:
        return None
    hours = Decimal(crossing.hours).to_integral_value(ROUND_FLOOR)
    last = Decimal(str(each.outlook.run[-1][0]))
    hours = max(hours, last + SOONEST)
    limit = each.check.upper if crossing.upper else each.check.lower
    assert limit is not None  # else nothing is crossed
    said = (
        gettext("{check} changes faster and faster and nears its limit of {limit} at about {hours}")
        if each.outlook.halves
        else gettext("{check} nears its limit of {limit} at about {hours}")
    )
    reason = said.format(
        check=each.check.label,
        limit=f"{limits.shown(limit)}{TIGHT}{each.unit}",
        hours=f"{grouped(hours, 0)}{TIGHT}h",
    )
    return Forward(hours, each.check.pk, reason)
