"""Today: what must not run, what waits for me, what is my day, what comes?"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Min
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fleet.accounts import api_tokens
from fleet.models import Booking, Hire
from fleet.web.guards import MemberRequest, members_only
from servicing import gate
from servicing.duties import nothing_known
from servicing.first_day.checklist import checklist
from servicing.gate.must_not_run import must_not_run
from servicing.models import Duty, RefusedEntries, WorkOrder
from servicing.web.asks import asks_on_today
from servicing.web.stops import MachineDuties, by_machine, by_yard
from servicing.web.telematics_today import telematics_today

MOST = 40  # machines or orders of one section
SOONEST = 6  # machines of a list that goes on elsewhere


@dataclass(frozen=True)
class Job:
    """An order of the day, and how many of its tasks are overdue."""

    order: WorkOrder
    overdue: int


@dataclass(frozen=True)
class GoingOut:
    """A booking of a hire that begins by today, and what the gate says of its unit."""

    booking: Booking
    answer: gate.Answer


@members_only
def today(request: MemberRequest) -> HttpResponse:
    """Show what must not run, what waits for this person, the day's work, and what is likely soon."""
    day = request.organisation.today()
    may = request.may
    orders = list(
        WorkOrder.objects.open()
        .with_everything()
        .with_refused()
        .filter(planned_for__lte=day)
        .order_by("planned_for", "number")
    )
    mine = [order for order in orders if order.technician and order.technician.member_id == request.member.pk]
    others = [order for order in orders if order not in mine][:MOST] if may.work_orders else []
    overdue = list(Duty.objects.overdue(day).with_everything().with_order())
    stopped = must_not_run(overdue, day)
    at_work = [each for each in stopped if not each.must_stand]
    shown = {order.pk for order in (*mine, *others)}
    told = {each.machine.pk for each in stopped}
    late = by_machine(
        duty
        for duty in overdue
        if not duty.is_deferred(day) and duty.machine_id not in told and duty.order_id not in shown
    )
    coming = Duty.objects.likely_within(request.organisation.notice_days, day).with_everything().with_order()
    likely = list(coming.filter(order_number=None, unknown_on=None).order_by("likely", "machine__tag"))
    unknown = Duty.objects.ahead(day).to_inspect().with_everything().with_order().filter(order_number=None)
    told |= {group.machine.pk for group in late}
    soon = by_machine(duty for duty in likely if duty.machine_id not in told)
    asked = asks_on_today(request.member)
    first_due = Duty.objects.ahead(day).aggregate(day=Min("likely"))["day"]
    setup = checklist(request.member)
    context = {
        "day": day,
        "stopped": [each for each in stopped if each.must_stand],
        "late_at_work": [(each, MachineDuties(each.machine, each.overdue)) for each in at_work[:SOONEST]],
        "more_at_work": max(len(at_work) - SOONEST, 0),
        "refused": list(RefusedEntries.objects.waiting()) if may.plan_orders else [],
        "asked": [ask for ask in asked if ask.asked_by_id != request.member.pk],
        "own_asks": [ask for ask in asked if ask.asked_by_id == request.member.pk],
        "telematics": telematics_today(timezone.now()) if may.manage_fleet else None,
        "ending": api_tokens.ending_soon(member=request.member),
        "mine": _jobs(mine, overdue),
        "orders": _jobs(others, overdue),
        "due_back": _due_back(day) if may.gate else [],
        "going_out": _going_out(day) if may.gate else [],
        "late": by_yard(late[:MOST]),
        "more_late": max(len(late) - MOST, 0),
        "soon": by_yard(soon[:SOONEST]),
        "to_inspect": by_machine(unknown.order_by("mark_on", "machine__tag")) if may.plan_orders else [],
        "more_soon": max(len(soon) - SOONEST, 0),
        "deferred": by_machine(duty for duty in overdue if duty.is_deferred(day)),
        "invented": any(each.invented for each in (*overdue, *likely, *orders)),
        "first_due": first_due,
        "setup": setup,
        "being_set_up": setup is None and request.organisation.set_up_at is None,
        "unknown": "" if overdue or first_due else nothing_known.missing(),
    }
    return render(request, "servicing/today.html", context)


def _jobs(orders: Iterable[WorkOrder], overdue: Iterable[Duty]) -> list[Job]:
    carried = Counter(duty.order_id for duty in overdue)
    return [Job(order, carried[order.pk]) for order in orders]


def _due_back(day: date) -> list[Hire]:
    return list(
        Hire.objects.open()
        .filter(due_back_on__lte=day)
        .with_people()
        .select_related("machine__type")
        .order_by("due_back_on", "machine__tag")
    )


def _going_out(day: date) -> list[GoingOut]:
    """Hires booked from today, or from before and not begun, of units that are in."""
    booked = Booking.objects.standing().filter(
        kind=Booking.Kind.HIRE, first_on__lte=day, last_on__gte=day, machine__retired_on=None
    )
    inside = booked.exclude(machine__in=Hire.objects.open().values("machine"))
    rows = list(
        inside.select_related("machine__type", "machine__yard__organisation").order_by("machine__tag")
    )
    answers = gate.answers(booking.machine for booking in rows)
    found = (GoingOut(booking, answers[booking.machine_id]) for booking in rows)
    return sorted(found, key=lambda each: each.booking.machine.tag)
