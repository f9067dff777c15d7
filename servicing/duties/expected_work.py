"""What the coming days are expected to bring, from every live duty's chance to fall due and its repeats.

It is counted from today and knows no month: the ledger, the purchase list and the forecast ask the same.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from datetime import datetime
from decimal import Decimal

from django.db.models import QuerySet
from django.utils import timezone

from fleet.models import Machine
from servicing.duties import machine_hours
from servicing.duties.applicability import rule_for
from servicing.ledger import outlook
from servicing.ledger.monthly_sheet import Expected
from servicing.ledger.outlook import Coming
from servicing.models import Duty, Task

DAYS = 60


def expected(
    *, days: int = DAYS, machines: QuerySet[Machine] | None = None, now: datetime | None = None
) -> list[Expected]:
    """Return what each machine in service is expected to need within so many days, attachments among them.

    machines: only these; all of the organisation when left out. Ordered by tag; a constant number of queries.
    Needs the organisation's scope.
    """
    now = now or timezone.now()
    among = Machine.objects.in_service()
    if machines is not None:
        among = among.filter(pk__in=machines.values("pk"))
    rows = list(
        among.select_related("type", "yard__organisation").prefetch_related("overrides").order_by("tag")
    )
    by_pk = {machine.pk: machine for machine in rows}
    duties = list(Duty.objects.live().filter(machine__in=rows))
    for duty in duties:
        duty.machine = by_pk[duty.machine_id]
    coming: dict[int, list[Coming]] = defaultdict(list)
    for duty, weighed in weigh(duties, tasks_of(duties), days=days, now=now):
        coming[duty.machine_id].append(weighed)
    return [
        Expected(
            machine_id=machine.pk,
            tag=machine.tag,
            kind=str(machine.type),
            coming=outlook.outlook(coming[machine.pk], days),
            hangs=machine.is_attachment,
        )
        for machine in rows
    ]


def tasks_of(duties: Collection[Duty]) -> dict[int, Task]:
    """Return the tasks of these duties with their intervals and supplies, by id; four queries."""
    tasks = Task.objects.filter(pk__in={duty.task_id for duty in duties}).select_related("version")
    return {task.pk: task for task in tasks.prefetch_related("intervals", "supplies__part")}


def weigh(
    duties: Collection[Duty], tasks: Mapping[int, Task], *, days: int, now: datetime
) -> Iterator[tuple[Duty, Coming]]:
    """Yield each duty with its chance, its repeats at the machine's pace, its minutes and its supplies.

    The duties come with machine, its overrides, yard and organisation; the tasks as `tasks_of` gives them.
    """
    paces = machine_hours.paces(
        list({duty.machine for duty in duties}), now, days=machine_hours.look_back(days)
    )
    for duty in duties:
        task, machine = tasks[duty.task_id], duty.machine
        today = machine.today(now)
        rule = rule_for(task, machine)
        every = (rule.every_hours, rule.every_months) if rule and not rule.once else (None, None)
        pace = paces[machine.pk]
        early, likely, late = (
            None if day is None else (day - today).days for day in (duty.early, duty.likely, duty.late)
        )
        yield (
            duty,
            Coming(
                early=early,
                likely=likely,
                late=late,
                gap=outlook.gap_days(*every, implied_pace(duty, now) if pace is None else pace),
                overdue=duty.is_overdue(today),
                minutes=task.minutes,
                supplies=sum(
                    (need.quantity * need.part.unit_cost for need in task.supplies.all()), Decimal(0)
                ),
                unpriced=sum(not need.part.unit_cost for need in task.supplies.all()),
            ),
        )


def implied_pace(duty: Duty, now: datetime) -> Decimal | None:
    """Return the hours a day by which the duty's likely day was reached: for a machine too new for its own.

    None where the day is a date's, or lies not ahead.
    """
    if duty.likely is None:
        return None
    days = (duty.likely - duty.machine.today(now)).days
    if days <= 0 or duty.mark_hours is None or (duty.mark_on and duty.mark_on <= duty.likely):
        return None
    return max(duty.mark_hours - duty.machine.hours, Decimal(0)) / days
