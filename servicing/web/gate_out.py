"""A unit goes out at the gate, or those are asked who may overrule what keeps it in."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.calendar import asks
from fleet.calendar.commitments import Promise
from fleet.core.errors import FleetError
from fleet.core.wording import day
from fleet.machines import tag_outs
from fleet.models import Ask, Machine
from fleet.web.forms.despite import AskForm
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs
from servicing import gate as process
from servicing.gate import Answer, Verdict
from servicing.web.forms.gate import OutForm

MAY_GO = (Verdict.READY, Verdict.SERVICE_FIRST)
FROM_ASK = ("hirer", "due_back_on", "booking")


@needs("gate")
def gate_out(request: MemberRequest, pk: int) -> HttpResponse:
    """Send a unit out, or ask for it."""
    machine = get_object_or_404(visible_machines(request), pk=pk)
    answer = process.look_ahead(machine)
    form = OutForm(
        request.POST or None,
        ask_why=request.may.plan_orders,
        bookings=process.bookings_near(machine),
        initial={name: value for name, value in request.GET.items() if name in FROM_ASK},
    )
    note = AskForm(request.POST or None)
    conflicts: Sequence[Promise] = ()
    if request.method == "POST":
        clearing = "clear" in request.POST
        if note.is_valid() and (clearing or form.is_valid()):
            try:
                return _done(request, machine, form, note)
            except FleetError as error:
                answer = getattr(error, "answer", answer)
                conflicts = getattr(error, "conflicts", ())
                show(error, note if clearing else form)
    return _page(request, machine, answer, form, note, conflicts)


def visible_machines(request: MemberRequest) -> QuerySet[Machine]:
    """The machines that may be looked at, with what the gate's pages show of them."""
    return Machine.objects.visible_to(request.member).select_related("type", "yard__organisation")


def tell_held(request: MemberRequest, answer: Answer) -> None:
    """Say that hours just typed are held, if they are."""
    if answer.held:
        messages.warning(request, answer.held)


def _done(request: MemberRequest, machine: Machine, form: OutForm, note: AskForm) -> HttpResponse:
    """Do what the pressed button says. Raises FleetError as the processes do."""
    words = note.cleaned_data["ask_note"]
    if "clear" in request.POST:
        tag_outs.ask_to_clear(machine=machine, member=request.member, note=words)
        said = _("Asked: {machine}. Those who clear tag-outs see it on Today.")
        messages.success(request, said.format(machine=machine))
        return redirect("gate")
    entered: dict[str, Any] = form.cleaned_data
    if "ask" in request.POST:
        process.ask_for(
            machine=machine,
            hirer=entered["hirer"],
            due_back_on=entered["due_back_on"],
            member=request.member,
            note=words,
        )
        said = _("Asked: {machine}. Those who plan the work see it on Today.")
        messages.success(request, said.format(machine=machine))
        return redirect("gate")
    gone = process.check_out(machine=machine, member=request.member, **entered)
    messages.success(request, _("{machine} is out. {why}").format(machine=machine, why=gone.reasons[0]))
    tell_held(request, gone)
    for remark in gone.notes:
        messages.info(request, remark)
    return redirect("gate")


def _typed(*forms: Form) -> list[tuple[str, str]]:
    """What was typed on forms that can't be sent any more, in words."""
    said = []
    for field in (each for form in forms for each in form.visible_fields()):
        typed = (field.data or "").strip()
        if choices := getattr(field.field, "choices", ()):
            typed = next((str(label) for value, label in choices if typed and str(value) == typed), "")
        elif isinstance(chosen := field.form.cleaned_data.get(field.name), date):
            typed = day(chosen)
        if typed:
            said.append((str(field.label), typed))
    return said


def _page(
    request: MemberRequest,
    machine: Machine,
    answer: Answer,
    form: OutForm,
    note: AskForm,
    conflicts: Sequence[Promise],
) -> HttpResponse:
    overruled = answer.verdict == Verdict.SERVICE_FIRST or bool(conflicts)
    if overruled:
        form.show_why_as_needed()
    tagged = answer.verdict == Verdict.TAGGED_OUT
    lately = Ask.objects.filter(machine=machine).standing_or_answered_lately(timezone.now())
    context = {
        "machine": machine,
        "answer": answer,
        "form": form,
        "note": note,
        "overruled": overruled,
        "gone_to": process.gone_out(answer.hire, machine) if answer.hire else "",
        "typed": _typed(form, note) if form.is_bound and form.errors else [],
        "may_go": answer.verdict in MAY_GO and machine.for_hire and not machine.retired_on,
        "may_ask": asks.may_ask(request.member, asks.Matter.SEND_OUT),
        "may_ask_to_clear": tagged and asks.may_ask(request.member, asks.Matter.CLEAR),
        "asks": lately.select_related("asked_by__user", "dealt_by__user"),
        "tag_outs": machine.tag_outs.open(),
        "meter": machine.meter_shows,
    }
    return render(request, "servicing/gate_out.html", context)
