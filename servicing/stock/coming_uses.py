"""What the days ahead ask of the parts: every supply of every task due, with the chance of its task."""

from collections.abc import Iterator
from datetime import datetime

from servicing.duties import expected_work
from servicing.ledger.outlook import Coming
from servicing.models import Duty, Part, SupplyNeed


def coming_uses(
    *, days: int, now: datetime, part: Part | None = None
) -> Iterator[tuple[SupplyNeed, Coming, bool]]:
    """Yield each need of each live duty within so many days, with its chance, and whether it is on an order.

    part: of this one alone. Needs the organisation's scope; asks a constant number of queries.
    """
    needs = SupplyNeed.objects.all() if part is None else SupplyNeed.objects.filter(part=part)
    duties = list(
        Duty.objects.live()
        .with_order()
        .filter(task__in=needs.values("task"))
        .select_related("machine__yard__organisation", "machine__type")
        .prefetch_related("machine__overrides")
    )
    tasks = expected_work.tasks_of(duties)
    for duty, weighed in expected_work.weigh(duties, tasks, days=days, now=now):
        for need in tasks[duty.task_id].supplies.all():
            if part is None or need.part_id == part.pk:
                yield need, weighed, duty.order_id is not None
