"""What has been entered on an order so far, in the shape in which it is entered."""

from servicing.measurements import limits
from servicing.models import CheckResult, WorkOrder
from servicing.workorders.entries import CheckEntry, Entries, LabourEntry, LineEntry, PartEntry


def stored(order: WorkOrder) -> Entries:
    """Return the entries that were recorded on the order; recording them again changes nothing.

    A step at a time can thus be changed and all of it recorded. The hours are entered at closing only.
    """
    return Entries(
        lines=[
            LineEntry(
                line.pk,
                line.outcome,
                line.reason,
                line.deferred_until,
                line.note,
                [_check(result) for result in line.results.all()],
            )
            for line in order.lines.prefetch_related("results")
        ],
        parts=[PartEntry(use.part_id, use.quantity) for use in order.parts.all()],
        labour=[LabourEntry(row.technician_id, row.minutes) for row in order.labour.all()],
    )


def _check(result: CheckResult) -> CheckEntry:
    return CheckEntry(
        result.check_made_id,
        _typed(result, "found"),
        result.found_unit,
        _typed(result, "left"),
        result.left_unit,
    )


def _typed(result: CheckResult, moment: str) -> str:
    """Return a value as who records it again would type it."""
    value = getattr(result, f"{moment}_value")
    return limits.shown(value) if value is not None else getattr(result, f"{moment}_word")
