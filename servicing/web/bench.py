"""Jobs: what is my next one, and what do I need for it?"""

from collections.abc import Iterable
from itertools import groupby

from django.db.models import Case, Count, F, IntegerField, When
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.core.number_reader import read_whole
from fleet.web.guards import MemberRequest, needs
from servicing.job_sheet.build import build_job_sheet
from servicing.models import Technician, WorkOrder
from servicing.models.workorder import WorkOrderQuerySet

State = WorkOrder.State


@needs("work_orders")
def bench(request: MemberRequest) -> HttpResponse:
    """Show a job with what it needs, the member's next or ?order=, and the open orders by technician."""
    orders = list(_open())
    mine = [order for order in orders if order.technician and order.technician.member_id == request.member.pk]
    following = next((order for order in mine if order.state != State.ON_HOLD), None)
    is_technician = Technician.objects.filter(member=request.member).exists()
    others = [order for order in orders if order not in mine]
    if not request.may.plan_orders:
        others = [order for order in others if order.technician is None]
    by_technician = _by_technician(others)
    asked = request.GET.get("order", "")
    if asked:
        wanted = get_object_or_404(WorkOrder, pk=read_whole(asked))
        chosen = next((order for order in (*mine, *others) if order == wanted), None)
        if chosen is None:
            return redirect(wanted)
    else:
        chosen = following or next((rows[0] for _, rows in by_technician), None)
    return render(
        request,
        "servicing/bench.html",
        {
            "is_technician": is_technician,
            "next": following,
            "chosen": chosen,
            "leads": bool(asked) or chosen == following,  # else a desk only has room for it beside the list
            "sheet": build_job_sheet(chosen) if chosen else None,
            "mine": [order for order in mine if order.state != State.ON_HOLD],
            "on_hold": [order for order in mine if order.state == State.ON_HOLD],
            "others": by_technician,
            "today": request.organisation.today(),
        },
    )


def _open() -> WorkOrderQuerySet:
    """Open orders: what is started first, then by their day, those without a day last."""
    rank = Case(
        When(state=State.STARTED, then=0),
        When(state=State.PLANNED, then=1),
        default=2,
        output_field=IntegerField(),
    )
    return (
        WorkOrder.objects.open()
        .with_everything()
        .with_refused()
        .annotate(line_count=Count("lines"), rank=rank)
        .order_by("rank", F("planned_for").asc(nulls_last=True), "number")
    )


def _by_technician(orders: Iterable[WorkOrder]) -> list[tuple[Technician | None, list[WorkOrder]]]:
    """Orders by technician, nobody's first; within one, in the order they came."""

    def name(order: WorkOrder) -> tuple[bool, str, int]:
        return (order.technician is not None, str(order.technician or ""), order.technician_id or 0)

    groups = groupby(sorted(orders, key=name), key=name)
    return [((rows := list(group))[0].technician, rows) for _, group in groups]
