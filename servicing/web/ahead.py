"""Forecast: what will fall due, week by week, and each machine's days on one time axis."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.core.paginator import Paginator
from django.db.models import Min, Q
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fleet.models import Booking, Hire, Machine
from fleet.models.machine import MachineQuerySet
from fleet.web.guards import MemberRequest, members_only
from servicing.duties import nothing_known, workload
from servicing.duties.recurrence import each_time
from servicing.duties.workload import Period
from servicing.models import Duty, WorkOrder
from servicing.web.charts.timeline import Strip, draw
from servicing.web.filters import AheadFilter
from servicing.web.stops import MachineDuties, by_machine

ROWS = 25
SPANS = (30, 60, 90, 180, 365)
AXIS = "axis"


@dataclass(frozen=True)
class Week:
    """A period as the page shows it. load: per cent of the fullest period's labour time."""

    period: Period
    load: float
    chosen: bool

    @property
    def machines(self) -> list[MachineDuties]:
        """Its tasks by machine."""
        return by_machine(self.period.duties)


@members_only
def ahead(request: MemberRequest) -> HttpResponse:
    """Add up the work of each week, and list the chosen one; or draw the machines on a time axis."""
    day = request.organisation.today()
    span = next((days for days in SPANS if str(days) == request.GET.get("days")), 60)
    end = day + timedelta(days=span)
    chosen = AheadFilter(request.GET, queryset=_in_sight(end), request=request)
    page = Paginator(chosen.qs, ROWS).get_page(request.GET.get("page"))
    axis = request.GET.get("view") == AXIS
    machines = list(page.object_list) if axis else list(chosen.qs)
    now = timezone.now()
    due = _due(machines, end, now)
    context = {
        "invented": any(duty.invented for duty in due),
        "filter": chosen,
        "span": span,
        "spans": SPANS,
        "day": day,
        "end": end,
        "unknown": "" if due else nothing_known.missing(),
    }
    if axis:
        context |= {"axis": True, "page": page, "strip": _strip(machines, due, day, span)}
    else:
        context |= _by_week(due, day, end, request.GET.get("week", ""))
    return render(request, "servicing/ahead.html", context)


def _in_sight(end: date) -> MachineQuerySet:
    """Machines with something that may fall due by a day, the soonest first."""
    in_sight = Q(duties__active=True) & Q(duties__early__lte=end)
    return (
        Machine.objects.in_service()
        .select_related("type", "yard__organisation")
        .prefetch_related("overrides")
        .annotate(
            first_likely=Min("duties__likely", filter=in_sight),
            first_early=Min("duties__early", filter=in_sight),
        )
        .exclude(first_early=None)
        .order_by("first_likely", "tag")
    )


def _due(machines: list[Machine], end: date, now: datetime) -> list[Duty]:
    """What falls due on these machines, as often as it does; each task is given its machine as it is here."""
    known = {machine.pk: machine for machine in machines}
    rows = Duty.objects.live().filter(machine__in=known, early__lte=end)
    duties = list(rows.with_order().select_related("task__version"))
    for duty in duties:
        duty.machine = known[duty.machine_id]
    return each_time(duties, until=end, now=now)


def _by_week(due: list[Duty], day: date, end: date, asked: str) -> dict[str, object]:
    """The periods, what is overdue as the first; the one asked for is chosen, else the first with work."""
    overdue = workload.overdue(due, day)
    periods = workload.ahead(due, today=day, until=end)
    known = {str(each.first): each for each in periods}
    first = next((each for each in periods if each.duties), None)
    shown = overdue if asked == "overdue" and overdue.duties else known.get(asked, first)
    fullest = max((each.minutes for each in (*periods, overdue)), default=0) or 1
    weeks = [Week(each, round(100 * each.minutes / fullest, 1), each is shown) for each in periods]
    late = Week(overdue, round(100 * overdue.minutes / fullest, 1), overdue is shown)
    everything = Period(day, end, [duty for each in (overdue, *periods) for duty in each.duties])
    return {
        "overdue": late if overdue.duties else None,
        "weeks": weeks,
        "shown": next((each for each in (late, *weeks) if each.chosen), None),
        "everything": everything,
        "by_month": workload.by_months(day, end),
    }


def _strip(machines: list[Machine], due: list[Duty], day: date, span: int) -> Strip:
    end = day + timedelta(days=span)
    return draw(
        machines=machines,
        duties=due,
        hires=Hire.objects.open().filter(machine__in=machines),
        bookings=Booking.objects.standing().from_day(day).filter(machine__in=machines, first_on__lte=end),
        orders=WorkOrder.objects.open().filter(machine__in=machines, planned_for__range=(day, end)),
        today=day,
        days=span,
    )
