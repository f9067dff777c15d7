"""The handover sheet: what does the dealer need to know about what was referred?"""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from fleet.web.guards import members_only
from servicing.job_sheet.build import allowed
from servicing.models import Line, WorkOrder


@members_only
def order_handover(request: HttpRequest, pk: int) -> HttpResponse:
    """Print what was referred on an order: the machine, what was found against its limits, what is asked."""
    order = get_object_or_404(WorkOrder.objects.with_everything().select_related("closed_by__user"), pk=pk)
    lines = list(
        order.lines.filter(outcome=Line.Outcome.REFERRED)
        .select_related("task__version__program")
        .prefetch_related("results__recorded_by__user", "faults__reported_by__user", "photos")
    )
    for line in lines:
        for result in line.results.all():
            result.limit = allowed(result)
    return render(
        request,
        "servicing/handover.html",
        {
            "order": order,
            "lines": lines,
            "hours": order.machine.hours if order.hours_at_close is None else order.hours_at_close,
            "tag_outs": order.machine.tag_outs.open().select_related("placed_by__user"),
            "fitments": order.machine.fitments.all(),
        },
    )
