"""Collects the rows of a month for the ledger: a constant number of queries, whatever the fleet's size."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db.models import OuterRef, Q, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from fleet import mounted
from fleet.models import Machine, Organisation, Reading, TagOut
from fleet.models.machine import Category
from servicing.applicable import rule_for
from servicing.ledger import ahead, compliance, costs, downtime, running
from servicing.ledger.compliance import Kept, Mark
from servicing.ledger.period import Month
from servicing.ledger.running import Point, Run
from servicing.ledger.sheet import Row, Sheet
from servicing.models import Duty, Labour, Line, PartUsed, Task, WorkOrder

DAYS_AHEAD = 60
PACE_DAYS = 90

# Tractors whose front axle is driven too go by the two-wheel-drive figures; the four-wheel-drive class means
# four equal wheels or tracks (from memory).
STANDARD_CLASS = {Category.TRACTOR: "tractor-2wd", Category.COMPACT_TRACTOR: "tractor-2wd"}


def collect(*, organisation: Organisation, month: Month, now: datetime | None = None) -> Sheet:
    """Return the organisation's sheet of a month, inside its scope; a running month goes up to `now`.

    A month is that of the organisation's zone. Costs are those of orders closed in the month; marks are told
    in `servicing.ledger.compliance`. What lies ahead is counted from `now`, whatever month is asked for.
    """
    now = now or timezone.now()
    zone = ZoneInfo(organisation.zone)
    today = now.astimezone(zone).date()
    start, end = month.bounds(zone)
    end, last_day = min(end, now), min(month.last_day, today)
    machines = list(
        Machine.objects.filter(organisation=organisation, in_service_on__lte=last_day)
        .filter(Q(retired_on=None) | Q(retired_on__gte=month.first_day))
        .select_related("type", "yard__organisation")
        .prefetch_related("overrides")
        .order_by("tag")
    )
    points = _points(machines, [start, end, now - timedelta(days=PACE_DAYS), now])
    runs = {pk: running.run(known, start, end) for pk, known in points.items()}
    tasks = _tasks(machines)
    duties = list(Duty.objects.live().filter(machine__in=machines))
    parts, labour = _parts(machines, start, end), _labour(machines, start, end)
    marks, left = _marks(machines, duties, tasks, month.first_day), _left(machines, start, end)
    spans = _spans(machines, start, end)
    coming = _coming(machines, duties, tasks, points, now)
    rows = []
    for machine in machines:
        pk, ran = machine.pk, runs[machine.pk]
        kept: Iterable[Kept | None] = (
            compliance.judge(mark, ran, month.first_day, last_day) for mark in marks[pk]
        )
        rows.append(
            Row(
                machine_id=pk,
                tag=machine.tag,
                kind=str(machine.type),
                hours=ran.hours if ran else None,
                hangs=machine.is_attachment,
                cost=costs.cost(parts[pk], labour[pk]),
                expected_cost=_expected_cost(machine, ran),
                days_down=downtime.days_down(spans[pk], start, end),
                marks=compliance.count(kept),
                left=left.count(pk),
                coming=ahead.outlook(coming[pk], DAYS_AHEAD),
            )
        )
    return Sheet(month=month, until=last_day, running=last_day < month.last_day, rows=rows)


def paces(machines: Collection[Machine], now: datetime) -> dict[int, Decimal | None]:
    """The hours a day that machines ran in the last 90 days, by id; None where too little is known."""
    since = now - timedelta(days=PACE_DAYS)
    return {pk: running.pace(known, since, now) for pk, known in _points(machines, [since, now]).items()}


def _points(machines: Collection[Machine], moments: Sequence[datetime]) -> dict[int, list[Point]]:
    """The counted readings next to each moment on either side, by machine; of attachments the whole course.

    Two queries, and two more where there are attachments.
    """
    counted = Reading.history(machine=OuterRef("pk"))
    nearest = {}
    for n, moment in enumerate(moments):
        before = counted.filter(taken_at__lte=moment).latest_first()
        after = counted.filter(taken_at__gt=moment).earliest_first()
        nearest[f"before_{n}"] = Subquery(before.values("pk")[:1])
        nearest[f"after_{n}"] = Subquery(after.values("pk")[:1])
    ids = Machine.objects.filter(pk__in=[m.pk for m in machines]).annotate(**nearest).values_list(*nearest)
    wanted = {pk for row in ids for pk in row if pk is not None}
    points: dict[int, list[Point]] = {machine.pk: [] for machine in machines}
    near = Reading.objects.filter(pk__in=wanted).values_list("machine_id", "taken_at", "hours")
    for machine_id, taken_at, hours in near:
        points[machine_id].append(Point(taken_at, hours))
    attachments = [machine.pk for machine in machines if machine.is_attachment]
    if attachments:
        for attachment, at, hours, _ in mounted.histories(attachments, until=max(moments)):
            points[attachment].append(Point(at, hours))
    return points


def _tasks(machines: Collection[Machine]) -> dict[int, Task]:
    """The tasks of the machines' duties with their intervals and supplies, by id."""
    wanted = Duty.objects.live().filter(machine__in=machines).values("task")
    tasks = Task.objects.filter(pk__in=wanted).select_related("version")
    tasks = tasks.prefetch_related("intervals", "supplies__part")
    return {task.pk: task for task in tasks}


def _parts(
    machines: Collection[Machine], start: datetime, end: datetime
) -> dict[int, list[tuple[Decimal, Decimal]]]:
    closed = WorkOrder.objects.closed_between(start, end).filter(machine__in=machines)
    used: dict[int, list[tuple[Decimal, Decimal]]] = defaultdict(list)
    rows = PartUsed.objects.filter(order__in=closed)
    for pk, quantity, unit_cost in rows.values_list("order__machine_id", "quantity", "unit_cost"):
        used[pk].append((quantity, unit_cost))
    return used


def _labour(
    machines: Collection[Machine], start: datetime, end: datetime
) -> dict[int, list[tuple[int, Decimal]]]:
    closed = WorkOrder.objects.closed_between(start, end).filter(machine__in=machines)
    spent: dict[int, list[tuple[int, Decimal]]] = defaultdict(list)
    rows = Labour.objects.filter(order__in=closed)
    for pk, minutes, rate in rows.values_list("order__machine_id", "minutes", "hourly_rate"):
        spent[pk].append((minutes, rate))
    return spent


def _marks(
    machines: Collection[Machine],
    duties: Collection[Duty],
    tasks: dict[int, Task],
    first_day: date,
) -> dict[int, list[Mark]]:
    """Every mark that may concern the month: met on or after its first day, or still standing."""
    marks: dict[int, list[Mark]] = defaultdict(list)
    met = (
        Line.objects.filter(order__state=WorkOrder.State.CLOSED, order__machine__in=machines)
        .filter(outcome__in=Line.MEETS_THE_MARK, task__isnull=False, done_on__gte=first_day)
        .filter(Q(mark_hours__isnull=False) | Q(mark_on__isnull=False))
        .annotate(on=Coalesce("duty__machine", "order__machine"))  # an attachment's, on its host's order
        .values_list("on", "mark_hours", "mark_on", "late_allowance_hours", "done_hours", "done_on")
    )
    for pk, hours, on, allowance, done_hours, done_on in met:
        marks[pk].append(Mark(hours, on, allowance, done_hours, done_on))
    by_pk = {machine.pk: machine for machine in machines}
    for duty in duties:
        rule = rule_for(tasks[duty.task_id], by_pk[duty.machine_id])
        allowance = rule.late_allowance_hours if rule else Decimal(0)
        marks[duty.machine_id].append(Mark(duty.mark_hours, duty.mark_on, Decimal(allowance)))
    return marks


def _left(machines: Collection[Machine], start: datetime, end: datetime) -> list[int]:
    closed = WorkOrder.objects.closed_between(start, end).filter(machine__in=machines)
    lines = Line.objects.filter(order__in=closed, outcome=Line.Outcome.LEFT)
    return list(lines.values_list("order__machine_id", flat=True))


def _spans(machines: Collection[Machine], start: datetime, end: datetime) -> dict[int, list[downtime.Span]]:
    """When machines were tagged out or in the shop; of the shop, ended orders and who stands there now."""
    spans: dict[int, list[downtime.Span]] = defaultdict(list)
    tagged = TagOut.objects.filter(machine__in=machines, placed_at__lt=end)
    tagged = tagged.filter(Q(cleared_at=None) | Q(cleared_at__gt=start))
    for pk, begin, finish in tagged.values_list("machine_id", "placed_at", "cleared_at"):
        spans[pk].append((begin, finish))
    worked = WorkOrder.objects.filter(machine__in=machines).exclude(started_at=None)
    worked = worked.annotate(ended_at=Coalesce("closed_at", "withdrawn_at")).filter(ended_at__gt=start)
    for pk, begin, finish in worked.filter(started_at__lt=end).values_list(
        "machine_id", "started_at", "ended_at"
    ):
        spans[pk].append((begin, finish))
    for machine in machines:
        if machine.in_shop_since:
            spans[machine.pk].append((machine.in_shop_since, None))
    return spans


def _coming(
    machines: Collection[Machine],
    duties: Collection[Duty],
    tasks: dict[int, Task],
    points: dict[int, list[Point]],
    now: datetime,
) -> dict[int, list[ahead.Coming]]:
    """The duties as the ledger weighs them, repeats at the machine's pace of the last 90 days."""
    by_pk = {machine.pk: machine for machine in machines}
    paces = {pk: running.pace(known, now - timedelta(days=PACE_DAYS), now) for pk, known in points.items()}
    supplies = {
        pk: sum((need.quantity * need.part.unit_cost for need in task.supplies.all()), Decimal(0))
        for pk, task in tasks.items()
    }
    coming: dict[int, list[ahead.Coming]] = defaultdict(list)
    for duty in duties:
        task, machine = tasks[duty.task_id], by_pk[duty.machine_id]
        duty.machine = machine
        today = machine.today(now)
        rule = rule_for(task, machine)
        every = (rule.every_hours, rule.every_months) if rule and not rule.once else (None, None)
        early, likely, late = (
            None if day is None else (day - today).days for day in (duty.early, duty.likely, duty.late)
        )
        coming[duty.machine_id].append(
            ahead.Coming(
                early=early,
                likely=likely,
                late=late,
                gap=ahead.gap_days(*every, paces[duty.machine_id]),
                past=duty.is_past(today),
                minutes=task.minutes,
                supplies=supplies[duty.task_id],
            )
        )
    return coming


def _expected_cost(machine: Machine, ran: Run | None) -> Decimal | None:
    """What ASAE D497 expects of the hours run; the price paid stands for the list price it asks for."""
    name = STANDARD_CLASS.get(Category(machine.type.category))
    if name is None or machine.price is None or ran is None:
        return None
    return costs.expected_between(machine.price, ran.start, ran.end, costs.REPAIR_FACTORS[name])
