"""Machines: what do we own, how far has it run, and what comes next on it?"""

from datetime import date
from decimal import Decimal
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Case, Exists, F, OuterRef, Q, Subquery, When
from django.db.models.functions import Coalesce
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from fleet.calendar.bookings import may_book
from fleet.models import Ask, Attachment, Booking, Hire, Machine, Mounting
from fleet.models.machine import MachineQuerySet
from fleet.web.guards import MemberRequest, members_only
from servicing.duties.applicability import daily_round, on_occasion
from servicing.duties.explanation import explain
from servicing.duties.machine_hours import by_week
from servicing.duties.projection import Days
from servicing.last_done.asked import sheets
from servicing.models import Duty, Fault, ProgramVersion, WorkOrder
from servicing.web.beside import beside
from servicing.web.charts.next_due import NextDue, next_due
from servicing.web.charts.sparkline import WEEKS, sparkline
from servicing.web.charts.timeline import draw
from servicing.web.charts.usage_chart import picture
from servicing.web.filters import MOST_URGENT, MachineFilter

ROWS = 25
SPAN = 180
MOST = 4  # tasks of a machine that are shown at once


@members_only
def machines(request: MemberRequest) -> HttpResponse:
    """List the machines, the most urgent first: state, hours, and what falls due next; one of them beside."""
    day = request.organisation.today()
    listed = (
        Machine.objects.with_state()
        .with_host()
        .select_related("type", "yard__organisation")
        .annotate(**_next(day))
        .annotate(
            grave_faults=Exists(Fault.objects.grave().filter(machine=OuterRef("pk"))),
            urgency=Case(
                When(retired_on__isnull=False, then=4),
                When(Q(is_tagged_out=True) | Q(grave_faults=True), then=1),
                When(overdue_count__gt=0, then=2),
                default=3,
            ),
        )
        .order_by(*MOST_URGENT)
    )
    chosen = MachineFilter(request.GET, queryset=listed, request=request)
    page = Paginator(chosen.qs, ROWS).get_page(request.GET.get("page"))
    shown = list(page.object_list)
    ran = by_week(shown, timezone.now(), weeks=WEEKS)
    rows = [(machine, _strip(machine, day), sparkline(ran[machine.pk])) for machine in shown]
    usual = shown[0].pk if shown else None
    unpriced = Machine.objects.in_service().filter(price=None)
    context = {
        "page": page,
        "rows": rows,
        "filter": chosen,
        "unpriced": request.may.manage_fleet and unpriced.exists(),
        "beside": beside(request.GET.get("beside", ""), request.member, usual=usual),
    }
    return render(request, "servicing/machines.html", context)


def _strip(machine: Any, day: date) -> NextDue | None:
    return next_due(
        overdue=machine.overdue_count > 0,
        early=machine.next_early,
        likely=machine.next_likely,
        late=machine.next_late,
        today=day,
    )


def _next(day: date) -> dict[str, Subquery | Coalesce]:
    """What comes next on each machine, as annotations."""
    following = (
        Duty.objects.live().filter(machine=OuterRef("pk")).order_by(F("likely").asc(nulls_last=True), "pk")
    )
    return {
        "next_task": Subquery(following.values("task__title")[:1]),
        "next_early": Subquery(following.values("early")[:1]),
        "next_likely": Subquery(following.values("likely")[:1]),
        "next_late": Subquery(following.values("late")[:1]),
        "overdue_count": Duty.objects.overdue(day).number_on_machine(),
    }


@members_only
def machine(request: MemberRequest, pk: int) -> HttpResponse:
    """Show one machine: state, duties, readings, orders, faults, tag-outs, meters."""
    shown = get_object_or_404(_machines(), pk=pk)
    now = timezone.now()
    day = shown.today(now)
    known = Duty.objects.live().with_everything().with_order().with_statement()
    duties = list(known.filter(machine=shown).soonest_first())
    for duty in duties:
        duty.overdue = duty.is_overdue(day)
    orders = WorkOrder.objects.filter(machine=shown).with_everything().with_refused()
    idle = shown.is_attachment and shown.host_id is None
    mark = None if idle else _mark_to_show(shown, duties)
    booked = list(Booking.objects.standing().from_day(day).filter(machine=shown))
    for booking in booked:
        booking.may_change = may_book(request.member, booking.kind)
    explanation = explain(shown, mark=mark, now=now)
    due_at_mark = [duty for duty in duties if mark is not None and duty.mark_hours == mark]
    return render(
        request,
        "servicing/machine.html",
        {
            "machine": shown,
            "day": day,
            "duties": duties,
            "most": MOST,
            "later": duties[MOST:],
            "has_program": bool(duties) or _follows_a_program(shown),
            "invented": ProgramVersion.objects.invented_for(shown.type_id).exists(),
            "daily": daily_round(shown),
            "on_occasion": on_occasion(shown),
            "departures": shown.overrides.with_titles(),
            "explanation": explanation,
            "fan": picture(explanation.fan, now=now.astimezone(shown.zoneinfo), kept=_days(due_at_mark))
            if explanation.fan
            else None,
            "mark": mark,
            "due_at_mark": due_at_mark,
            "unsaid": _unsaid(shown, duties) if request.may.manage_fleet else 0,
            "overdue": sum(duty.overdue for duty in duties),
            "strip": draw(
                machines=[shown],
                duties=[duty for duty in duties if duty.early],
                hires=Hire.objects.open().filter(machine=shown),
                bookings=booked,
                orders=orders.open(),
                today=day,
                days=SPAN,
            ),
            "bookings": booked,
            "asks": Ask.objects.standing().filter(machine=shown).select_related("asked_by__user"),
            "open_orders": orders.open(),
            "closed_orders": orders.filter(state=WorkOrder.State.CLOSED).order_by("-closed_at")[:3],
            "faults": Fault.objects.open().filter(machine=shown).select_related("reported_by__user"),
            "tag_outs": shown.tag_outs.select_related("placed_by__user", "cleared_by__user")[:10],
            "readings": shown.readings.select_related("taken_by__user", "token")[:4],
            "segments": shown.segments.all(),
            "told": shown.telematics_units.latest_first().select_related("source")[:3],
            "attachments": Attachment.objects.mounted_on(shown)
            .select_related("type")
            .annotate(**_next(day))
            .order_by("tag"),
            "mountings": Mounting.objects.filter(attachment=shown.pk).select_related("machine")[:10]
            if shown.is_attachment
            else [],
            "hire": Hire.objects.open().with_people().filter(machine=shown).first(),
            "past_hires": Hire.objects.with_people()
            .filter(machine=shown)
            .exclude(back_at=None)
            .order_by("-back_at")[:10],
        },
    )


def _unsaid(shown: Machine, duties: list[Duty]) -> int:
    """Of how many tasks nobody has said when they were last done before the machine came."""
    if all(duty.last_on or duty.unknown_on for duty in duties):
        return 0
    return sum(len(sheet.open) for sheet in sheets([shown.pk]))


def _mark_to_show(shown: Machine, duties: list[Duty]) -> Decimal | None:
    """The next mark of hours ahead: that which the picture leads up to."""
    marks = (duty.mark_hours for duty in duties if duty.mark_hours and duty.mark_hours > shown.hours)
    return min(marks, default=None)


def _follows_a_program(machine: Machine) -> bool:
    """Whether its model has a program that applies, which a draft doesn't."""
    return ProgramVersion.objects.current().filter(program__machine_type=machine.type_id).exists()


def _days(duties: list[Duty]) -> Days | None:
    """The days kept of these by their hours alone; None where there are none yet."""
    kept = (Days(duty.early, duty.likely, duty.late) for duty in duties if duty.early and not duty.mark_on)
    return next(kept, None)


def _machines() -> MachineQuerySet:
    return (
        Machine.objects.with_state()
        .with_host()
        .select_related("type__program", "yard__organisation")
        .prefetch_related("fitments")
    )
