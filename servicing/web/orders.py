"""Jobs: which orders are there, what is to be done on one, and how far is it?"""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypedDict, cast

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, F
from django.db.models.functions import Coalesce
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.core.errors import FleetError, NotAllowed, Stale, WrongState
from fleet.core.number_reader import read_whole
from fleet.models import Machine, Reading
from fleet.web.forms.despite import refuse
from fleet.web.forms.fields import sent
from fleet.web.guards import MemberRequest, members_only, needs
from servicing import workorders
from servicing.job_sheet.build import allowed
from servicing.models import CheckResult, Duty, Fault, WorkOrder
from servicing.planning.bundle import Candidate, suggest
from servicing.web.forms.orders import AssignForm, MoveForm, NewOrderForm, OrderFilter, ReasonForm
from servicing.workorders.cost import cost_of

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class Limited(TypedDict):
        """What the page of an order writes of a result."""

        limit: str


ROWS = 20
STATUS = {Stale: 409, WrongState: 409, NotAllowed: 403}


@members_only
def orders(request: MemberRequest) -> HttpResponse:
    """List the orders: open ones by their planned day, then ended ones with the latest first."""
    listed = (
        WorkOrder.objects.with_everything()
        .with_refused()
        .annotate(line_count=Count("lines"), ended_at=Coalesce("closed_at", "cancelled_at"))
        .order_by(F("ended_at").desc(nulls_first=True), F("planned_for").asc(nulls_last=True), "number")
    )
    chosen = OrderFilter(request.GET, queryset=listed, request=request)
    page = Paginator(chosen.qs, ROWS).get_page(request.GET.get("page"))
    return render(request, "servicing/orders.html", {"filter": chosen, "page": page})


@needs("plan_orders")
def order_new(request: MemberRequest) -> HttpResponse:
    """Make an order: what is overdue and likely soon on the machine is ticked, what is near is suggested."""
    asked = request.GET.get("machine", "")
    machines = (
        Machine.objects.visible_to(request.member).in_service().select_related("type", "yard__organisation")
    )
    if not asked:
        return render(request, "servicing/order_new.html", {"machines": machines.order_by("tag")})
    machine = get_object_or_404(machines, pk=read_whole(asked))
    form = NewOrderForm(request.POST or None, machine=machine)
    if request.method == "POST" and form.is_valid():
        try:
            order = workorders.plan(member=request.member, machine=machine, **form.cleaned_data)
        except FleetError as error:
            refuse(error, form)
        else:
            messages.success(request, _("{order} is planned.").format(order=order))
            return redirect(order)
    context = {"machine": machine, "form": form, **_to_choose_from(request, machine, form)}
    return render(request, "servicing/order_new.html", context, status=422 if form.errors else 200)


@members_only
def order(request: MemberRequest, pk: int) -> HttpResponse:
    """Show one order: lines, results, parts, labour, cost, and what can be done with it now."""
    return _page(request, _order(pk), {})


@require_POST
@needs("work_orders")
def order_start(request: MemberRequest, pk: int) -> HttpResponse:
    """Begin a planned order."""
    said = _("{order} is started; {machine} is in the shop.")
    return _move(request, pk, "start", MoveForm, workorders.start, said)


@require_POST
@needs("work_orders")
def order_resume(request: MemberRequest, pk: int) -> HttpResponse:
    """Go on with an order that is on hold."""
    return _move(request, pk, "resume", MoveForm, workorders.resume, _("{order} is resumed."))


@require_POST
@needs("work_orders")
def order_hold(request: MemberRequest, pk: int) -> HttpResponse:
    """Put an order on hold for parts or a person."""
    return _move(request, pk, "hold", ReasonForm, workorders.hold, _("{order} is on hold."))


@require_POST
@needs("plan_orders")
def order_cancel(request: MemberRequest, pk: int) -> HttpResponse:
    """Cancel an order."""
    said = _("{order} is cancelled; its work can be planned again.")
    return _move(request, pk, "cancel", ReasonForm, workorders.cancel, said)


@require_POST
@needs("plan_orders")
def order_assign(request: MemberRequest, pk: int) -> HttpResponse:
    """Give an order to a technician and a day."""
    said, nobody = _("{order} is with {technician}."), _("{order} is with no one yet.")
    return _move(request, pk, "assign", AssignForm, workorders.assign, said, nobody)


def _move(
    request: MemberRequest,
    pk: int,
    action: str,
    form_class: type[Form],
    process: Callable[..., WorkOrder],
    said: str,
    said_of_nobodys: str = "",
) -> HttpResponse:
    """Run one process on an order; when it is refused, show the order as it is now beside what was typed.

    said: what to say after it. said_of_nobodys: the same of an order without a technician, if that differs.
    """
    shown = _order(pk)
    form = form_class(request.POST)
    status = 422
    if form.is_valid():
        try:
            moved = process(order=shown, member=request.member, **form.cleaned_data)
        except FleetError as error:
            refuse(error, form)
            status = next((code for kind, code in STATUS.items() if isinstance(error, kind)), 422)
        else:
            sentence = said if moved.technician else said_of_nobodys or said
            messages.success(
                request, sentence.format(order=moved, machine=moved.machine, technician=moved.technician)
            )
            return redirect(moved)
    return _page(request, _order(pk), {action: form}, status=status)


def _order(pk: int) -> WorkOrder:
    return get_object_or_404(
        WorkOrder.objects.with_everything().select_related("closed_by__user", "made_by__user"), pk=pk
    )


def _page(
    request: MemberRequest, shown: WorkOrder, tried: dict[str, Form], status: int = 200
) -> HttpResponse:
    lines = list(
        shown.lines.select_related("task", "duty__machine").prefetch_related("results", "faults", "photos")
    )
    for line in lines:
        for result in line.results.all():
            cast("WithAnnotations[CheckResult, Limited]", result).limit = allowed(result)
    parts = list(shown.parts.select_related("part"))
    labour = list(shown.labour.select_related("technician__member__user"))
    reading = workorders.reading_of(shown) if shown.state == WorkOrder.State.CLOSED else None
    context = {
        "order": shown,
        "lines": lines,
        "parts": parts,
        "labour": labour,
        "cost": cost_of(shown, lines=lines, parts=parts, labour=labour),
        "tag_outs": shown.machine.tag_outs.open().select_related("placed_by__user"),
        "in_its_way": workorders.in_its_way(shown, timezone.now()),
        "failures": shown.safety_failures.select_related("recorded_by__user", "re_tested_by__user"),
        "refused_entries": shown.refused_entries.select_related("member__user"),
        "held": reading if reading and reading.state == Reading.State.HELD else None,
        "may_amend": workorders.may_amend(shown, request.member),
        "corrections": workorders.corrections(shown),
        "tried": tried,
        "refused": next(iter(tried.values()), None),
        **_forms(request, shown, tried),
    }
    return render(request, "servicing/order.html", context, status=status)


def _forms(request: MemberRequest, shown: WorkOrder, tried: dict[str, Form]) -> dict[str, Form]:
    """Return the forms of what can be done now; a refused one keeps what was typed, at the new revision."""
    start = {"revision": shown.revision}
    assign = {**start, "technician": shown.technician_id, "planned_for": shown.planned_for}
    made: dict[str, Any] = {
        "hold": ReasonForm(initial=start, auto_id="hold_%s"),
        "cancel": ReasonForm(initial=start, auto_id="cancel_%s"),
        "assign": AssignForm(initial=assign),
    }
    for action, form in tried.items():
        data = sent(form).copy()
        data["revision"] = shown.revision
        form.data = data
        made[action] = form
    return {f"{action}_form": form for action, form in made.items()}


def _to_choose_from(request: MemberRequest, machine: Machine, form: Form) -> dict[str, Any]:
    """Return the machine's duties and faults that no open order carries, with what speaks for each.

    So are those duties of its attachments that are overdue, or likely near in the same stop.
    """
    today = machine.today()
    duties = list(
        Duty.objects.live()
        .on_stop_of(machine)
        .with_everything()
        .with_order()
        .order_by(F("likely").asc(nulls_last=True), "mark_hours", "pk")
    )
    free = {duty.pk: duty for duty in duties if duty.order_id is None}
    suggestions = suggest(
        [Candidate(d.pk, d.is_overdue(today), d.likely, d.deferred_until) for d in free.values()],
        today=today,
        soon_days=request.organisation.notice_days,
    )
    ticked = set(sent(form).getlist("duties")) if form.is_bound else None
    for suggestion in suggestions:
        duty = free[suggestion.id]
        duty.reason = suggestion.reason
        duty.ticked = suggestion.chosen if ticked is None else str(duty.pk) in ticked
    faults = list(
        Fault.objects.open()
        .on_stop_of(machine)
        .exclude(line__open=True)
        .select_related("reported_by__user", "machine")
    )
    marked = set(sent(form).getlist("faults")) if form.is_bound else None
    for fault in faults:
        fault.ticked = marked is None or str(fault.pk) in marked
    return {
        "due_now": [free[s.id] for s in suggestions if s.chosen],
        "near": [free[s.id] for s in suggestions if s.near],
        "later": [
            free[s.id]
            for s in suggestions
            if not s.chosen and not s.near and free[s.id].machine_id == machine.pk
        ],
        "on_orders": [duty for duty in duties if duty.order_id],
        "faults": faults,
        "today": today,
    }
