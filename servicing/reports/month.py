"""Collects the rows of a month for the ledger: a constant number of queries, whatever the fleet's size."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import Any, cast
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.db.models.functions import Coalesce
from django.utils import timezone

from fleet.models import Machine, Organisation, TagOut
from fleet.models.machine import Category
from servicing.duties import expected_work, nothing_known
from servicing.duties.applicability import rule_for
from servicing.duties.machine_hours import points_near
from servicing.ledger import compliance, costs, downtime, hours_run
from servicing.ledger.compliance import Kept, Mark
from servicing.ledger.hours_run import Run
from servicing.ledger.monthly_sheet import MachineMonth, Sheet
from servicing.ledger.period import Month
from servicing.models import Duty, Interval, Labour, Line, PartUsed, Task, WorkOrder

# Tractors whose front axle is driven too go by the two-wheel-drive figures; the four-wheel-drive class means
# four equal wheels or tracks (from memory).
STANDARD_CLASS = {Category.TRACTOR: "tractor-2wd", Category.COMPACT_TRACTOR: "tractor-2wd"}


def collect_month(*, organisation: Organisation, month: Month, now: datetime | None = None) -> Sheet:
    """Return the organisation's sheet of a month, inside its scope; a running month goes up to `now`.

    A month is that of the organisation's zone. Costs are those of orders closed in the month; marks are told
    in `servicing.ledger.compliance`. What lies ahead is counted from `now`, for the machines in service then,
    and is the same whatever month is asked for.
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
    runs = {pk: hours_run.run(known, start, end) for pk, known in points_near(machines, [start, end]).items()}
    duties = list(Duty.objects.live().filter(machine__in=machines))
    tasks = expected_work.tasks_of(duties)
    closed = WorkOrder.objects.closed_between(start, end).filter(machine__in=machines)
    parts = _by_machine(PartUsed.objects.filter(order__in=closed), "quantity", "unit_cost")
    labour = _by_machine(Labour.objects.filter(order__in=closed), "minutes", "hourly_rate")
    untimed = _untimed(closed)
    marks, deferred = _marks(machines, duties, tasks, month.first_day), _deferred(closed)
    spans = _spans(machines, start, end)
    rows = []
    for machine in machines:
        pk, ran = machine.pk, runs[machine.pk]
        kept: Iterable[Kept | None] = (
            compliance.judge(mark, ran, month.first_day, last_day) for mark in marks[pk]
        )
        rows.append(
            MachineMonth(
                machine_id=pk,
                tag=machine.tag,
                kind=str(machine.type),
                hours=ran.hours if ran else None,
                hangs=machine.is_attachment,
                cost=costs.cost(parts[pk], labour[pk], untimed=untimed.count(pk)),
                expected_cost=_expected_cost(machine, ran),
                days_down=downtime.days_down(spans[pk], start, end),
                marks=compliance.count(kept),
                deferred=deferred.count(pk),
            )
        )
    ahead = expected_work.expected(now=now)
    return Sheet(
        month=month,
        until=last_day,
        running=last_day < month.last_day,
        rows=rows,
        ahead=ahead,
        invented=_invented(),
        planned=any(each.coming.jobs for each in ahead) or not nothing_known.missing(),
    )


def _invented() -> frozenset[int]:
    """The machines with a duty, or with work of the past, by figures that are invented."""
    lines = Line.objects.filter(task__version__invented=True, order__state=WorkOrder.State.CLOSED)
    done = lines.annotate(on=Coalesce("duty__machine", "order__machine")).values_list("on", flat=True)
    duties = Duty.objects.live().filter(task__version__invented=True).values_list("machine", flat=True)
    return frozenset(duties.order_by().union(done.order_by()))


def _by_machine(rows: QuerySet, number: str, cost_of_one: str) -> dict[int, list[tuple[Any, Decimal]]]:
    """What orders took, and the cost of one of it, by their machines."""
    taken: dict[int, list[tuple[Any, Decimal]]] = defaultdict(list)
    for pk, *each in rows.values_list("order__machine_id", number, cost_of_one):
        taken[pk].append(tuple(each))
    return taken


def _untimed(closed: "QuerySet[WorkOrder]") -> list[int]:
    """The machines of closed orders whose work took time that was never entered, once for each."""
    worked = closed.filter(labour=None).filter(
        Exists(Line.objects.filter(order=OuterRef("pk"), outcome__in=Line.MEETS_THE_MARK))
    )
    return list(worked.values_list("machine_id", flat=True))


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
        .annotate(to_month_end=Exists(Interval.objects.filter(task=OuterRef("task"), to_month_end=True)))
        .values_list(
            "on", "mark_hours", "mark_on", "late_allowance_hours", "done_hours", "done_on", "to_month_end"
        )
    )
    for pk, hours, on, allowance, done_hours, done_on, to_month_end in met:
        marks[pk].append(Mark(hours, on, allowance, done_hours, done_on, to_month_end))
    by_pk = {machine.pk: machine for machine in machines}
    for duty in duties:
        rule = rule_for(tasks[duty.task_id], by_pk[duty.machine_id])
        allowance = rule.late_allowance_hours if rule else Decimal(0)
        month_end = rule is not None and rule.to_month_end
        marks[duty.machine_id].append(
            Mark(duty.mark_hours, duty.mark_on, Decimal(allowance), to_month_end=month_end)
        )
    return marks


def _deferred(closed: "QuerySet[WorkOrder]") -> list[int]:
    lines = Line.objects.filter(order__in=closed, outcome=Line.Outcome.DEFERRED)
    return list(lines.values_list("order__machine_id", flat=True))


def _spans(machines: Collection[Machine], start: datetime, end: datetime) -> dict[int, list[downtime.Span]]:
    """When machines were tagged out or in the shop; of the shop, ended orders and who stands there now."""
    spans: dict[int, list[downtime.Span]] = defaultdict(list)
    tagged = TagOut.objects.filter(machine__in=machines, placed_at__lt=end)
    tagged = tagged.filter(Q(cleared_at=None) | Q(cleared_at__gt=start))
    for pk, begin, finish in tagged.values_list("machine_id", "placed_at", "cleared_at"):
        spans[pk].append((begin, finish))
    worked = WorkOrder.objects.filter(machine__in=machines).exclude(started_at=None)
    worked = worked.annotate(ended_at=Coalesce("closed_at", "cancelled_at")).filter(ended_at__gt=start)
    for pk, started, ended in worked.filter(started_at__lt=end).values_list(
        "machine_id", "started_at", "ended_at"
    ):
        spans[pk].append((cast(datetime, started), ended))
    for machine in machines:
        if machine.in_shop_since:
            spans[machine.pk].append((machine.in_shop_since, None))
    return spans


def _expected_cost(machine: Machine, ran: Run | None) -> Decimal | None:
    """What ASAE D497 expects of the hours run; the price paid stands for the list price it asks for."""
    name = STANDARD_CLASS.get(Category(machine.type.category))
    if name is None or machine.price is None or ran is None:
        return None
    return costs.expected_between(machine.price, ran.start, ran.end, costs.REPAIR_FACTORS[name])
