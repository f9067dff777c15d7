"""Today: what must be done, by whom, before which day?"""

from datetime import date

from django.db.models import Min
from django.http import HttpResponse
from django.shortcuts import render

from fleet.accounts import api_tokens
from fleet.models import Hire, TagOut
from fleet.web.guards import MemberRequest, members_only
from servicing.models import Duty, RefusedEntries, WorkOrder
from servicing.web.asks import asks_on_today
from servicing.web.stops import by_machine

MOST = 40


@members_only
def today(request: MemberRequest) -> HttpResponse:
    """Show what is overdue, planned up to today, deferred, likely soon, tagged out and due back."""
    day = request.organisation.today()
    orders = (
        WorkOrder.objects.open()
        .with_everything()
        .with_refused()
        .filter(planned_for__lte=day)
        .order_by("planned_for", "number")
    )
    overdue = list(Duty.objects.overdue(day).with_everything().with_order())
    coming = Duty.objects.likely_within(request.organisation.notice_days, day).with_everything().with_order()
    likely = list(coming.filter(order_number=None).order_by("likely", "machine__tag"))
    mine = orders.for_technician(request.member)
    others = orders.exclude(technician__member=request.member)[:MOST] if request.may.work_orders else []
    return render(
        request,
        "servicing/today.html",
        {
            "day": day,
            "overdue": by_machine(duty for duty in overdue if not _deferred(duty, day)),
            "deferred": by_machine(duty for duty in overdue if _deferred(duty, day)),
            "mine": mine,
            "orders": others,
            "likely": by_machine(likely),
            "invented": any(each.invented for each in (*overdue, *likely, *mine, *others)),
            "refused": RefusedEntries.objects.waiting() if request.may.plan_orders else [],
            "tagged_out": TagOut.objects.open().select_related("machine__type", "placed_by__user"),
            "asked": asks_on_today(request.member),
            "due_back": _due_back(day) if request.may.gate else [],
            "ending": api_tokens.ending_soon(member=request.member),
            "first_day": Duty.objects.ahead(day).aggregate(day=Min("likely"))["day"],
            "most": MOST,
        },
    )


def _deferred(duty: Duty, day: date) -> bool:
    return duty.deferred_until is not None and duty.deferred_until > day


def _due_back(day: date) -> "list[Hire]":
    return list(
        Hire.objects.open()
        .filter(due_back_on__lte=day)
        .with_people()
        .select_related("machine__type")
        .order_by("due_back_on")
    )
