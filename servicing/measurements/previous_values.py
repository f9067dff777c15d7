"""What a machine's checks showed the last time, whichever version of the program asked for them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import cast

from django.db.models import F, Q, Window
from django.db.models.functions import RowNumber

from servicing.models import Check, CheckResult, WorkOrder
from servicing.models.line import WORKED_ON

Key = tuple[int, str, str]


@dataclass(frozen=True)
class Last:
    """The values of the last closed order that has them, as a person reads them; `hours` of the machine."""

    found: str
    left: str
    passes: bool | None
    on: date
    hours: Decimal | None
    order: int


def last_values(order: WorkOrder, checks: Iterable[Check]) -> dict[int, Last]:
    """Return by check what was last entered for it on a closed order of the same machine or attachment.

    A check is the same in another version when program, task and check have the same codes. Asks one query.
    """
    wanted = {_key(check): check.pk for check in checks}
    if not wanted:
        return {}
    programs, tasks, codes = (set(column) for column in zip(*wanted, strict=True))
    same = ["check_made__task__version__program", "check_made__task__code", "check_made__code"]
    newest = Window(
        RowNumber(), partition_by=same, order_by=[F("line__order__closed_at").desc(), F("pk").desc()]
    )
    results = (
        CheckResult.objects.annotate(on=WORKED_ON)
        .filter(
            Q(on=order.machine_id) | Q(on__in=order.lines.values("duty__machine")),
            line__order__state=WorkOrder.State.CLOSED,
            check_made__task__version__program__in=programs,
            check_made__task__code__in=tasks,
            check_made__code__in=codes,
        )
        .exclude(line__order=order)
        .exclude(Q(found_word="", found_value=None) & Q(left_word="", left_value=None))
        .annotate(place=newest)
        .filter(place=1)
        .select_related("line__order", "check_made__task__version")
    )
    zone = order.machine.yard.zoneinfo
    return {
        wanted[key]: Last(
            found=result.as_found,
            left=result.as_left,
            passes=result.passes,
            on=cast(datetime, result.line.order.closed_at).astimezone(zone).date(),
            hours=result.line.order.hours_at_close
            if result.line.done_hours is None
            else result.line.done_hours,
            order=result.line.order.number,
        )
        for result in results
        if (key := _key(result.check_made)) in wanted
    }


def _key(check: Check) -> Key:
    return (check.task.version.program_id, check.task.code, check.code)
