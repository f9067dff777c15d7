"""The job sheet of an order: on screen, and on paper as a PDF."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.web.guards import MemberRequest, members_only
from servicing.job_sheet.build import build_job_sheet
from servicing.models import WorkOrder
from servicing.printing.job_sheet_pdf import job_sheet
from servicing.printing.typst import SIZES, usual_size
from servicing.web import within_sentences


@members_only
def order_sheet(request: MemberRequest, pk: int) -> HttpResponse:
    """Show what to prepare and bring, and the work in the best order."""
    order = _order(pk)
    context = {
        "order": order,
        "meter": order.machine.meter_shows,
        "sheet": build_job_sheet(order),
        "sizes": SIZES,
        "usual": _usual(request),
        "outcomes": within_sentences.outcomes(),
    }
    return render(request, "servicing/order_sheet.html", context)


@require_safe
@members_only
def order_sheet_pdf(request: MemberRequest, pk: int) -> HttpResponse:
    """Send the sheet to be printed: ?paper=a4 or letter, by the organisation's habit without it."""
    order = _order(pk)
    asked = request.GET.get("paper", "")
    size = asked if asked in SIZES else _usual(request)
    made = job_sheet(build_job_sheet(order), size=size, at=timezone.now())
    answer = HttpResponse(made, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="order-{order.number}.pdf"'
    return answer


def _usual(request: MemberRequest) -> str:
    return usual_size(request.organisation.units)


def _order(pk: int) -> WorkOrder:
    return get_object_or_404(WorkOrder.objects.with_everything(), pk=pk)
