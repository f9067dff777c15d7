"""Ahead: when will things fall due? Projected days of every machine on one time axis."""

from datetime import timedelta

from django.core.paginator import Paginator
from django.db.models import Min, Q
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fleet.models import Booking, Hire, Machine
from fleet.web.guards import MemberRequest, members_only
from servicing.duties import expected_work
from servicing.duties.recurrence import each_time
from servicing.ledger import outlook
from servicing.models import Duty, WorkOrder
from servicing.web.charts.timeline import draw
from servicing.web.filters import AheadFilter

ROWS = 25
SPANS = (30, 60, 180, 365)


@members_only
def ahead(request: MemberRequest) -> HttpResponse:
    """Draw the time strip of the machines with something in the chosen span, soonest first."""
    day = request.organisation.today()
    span = next((days for days in SPANS if str(days) == request.GET.get("days")), 60)
    end = day + timedelta(days=span)
    in_sight = Q(duties__active=True) & Q(duties__early__lte=end)
    machines = (
        Machine.objects.in_service()
        .select_related("type", "yard__organisation")
        .annotate(
            first_likely=Min("duties__likely", filter=in_sight),
            first_early=Min("duties__early", filter=in_sight),
        )
        .exclude(first_early=None)
        .order_by("first_likely", "tag")
    )
    chosen = AheadFilter(request.GET, queryset=machines, request=request)
    page = Paginator(chosen.qs, ROWS).get_page(request.GET.get("page"))
    shown = list(page.object_list)
    duties = Duty.objects.live().with_everything().with_order().prefetch_related("machine__overrides")
    now = timezone.now()
    due = each_time(list(duties.filter(machine__in=shown, early__lte=end)), until=end, now=now)
    strip = draw(
        machines=shown,
        duties=due,
        hires=Hire.objects.open().filter(machine__in=shown),
        bookings=Booking.objects.standing().from_day(day).filter(machine__in=shown, first_on__lte=end),
        orders=WorkOrder.objects.open().filter(machine__in=shown, planned_for__range=(day, end)),
        today=day,
        days=span,
    )
    return render(
        request,
        "servicing/ahead.html",
        {
            "strip": strip,
            "invented": any(duty.invented for duty in due),
            "page": page,
            "filter": chosen,
            "span": span,
            "spans": SPANS,
            "day": day,
            "end": end,
            "expected": outlook.add(
                row.coming for row in expected_work.expected(days=span, machines=chosen.qs, now=now)
            ),
        },
    )
