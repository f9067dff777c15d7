"""Gate: can it go out, who has it, and is it back?"""

from collections.abc import Iterable

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from fleet.errors import FleetError
from fleet.models import Hire, Machine
from fleet.web.forms.refusals import show
from fleet.web.guards import needs
from servicing import gate as process
from servicing.gate import Answer, Verdict
from servicing.web.filters import AheadFilter
from servicing.web.forms.defects import WalkRound
from servicing.web.forms.gate import InForm
from servicing.web.gate_out import tell_held, visible_machines

KEPT_IN = (Verdict.TAGGED_OUT, Verdict.IN_SHOP)


@needs("gate")
def gate(request: HttpRequest) -> HttpResponse:
    """List the rental units by what can be done with them; after a return, the answer stands at the top."""
    chosen = AheadFilter(request.GET, queryset=_units(request), request=request)
    units = {machine.pk: machine for machine in chosen.qs}
    answers = process.answers(units.values())
    asked = request.GET.get("back", "")
    return render(
        request,
        "servicing/gate.html",
        {
            "filter": chosen,
            "back": answers.get(int(asked)) if asked.isascii() and asked.isdigit() else None,
            "out": [(a, _overdue(a)) for a in sorted(answers.values(), key=_return_day) if a.hire],
            "ready": _with(answers.values(), Verdict.READY),
            "service_first": _with(answers.values(), Verdict.SERVICE_FIRST),
            "kept_in": [a for a in answers.values() if a.verdict in KEPT_IN and not a.hire],
        },
    )


@needs("gate")
def gate_in(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a unit back, with its hours, fuel and what the walk round showed."""
    machine = get_object_or_404(visible_machines(request), pk=pk)
    form = InForm(request.POST or None)
    faults = WalkRound(request.POST or None, request.FILES or None, prefix="faults")
    if request.method == "POST" and form.is_valid() & faults.is_valid():
        try:
            answer = process.check_in(
                machine=machine,
                member=request.member,
                faults=[process.Fault(**fault) for fault in faults.entered],
                **form.cleaned_data,
            )
        except FleetError as error:
            show(error, form)
        else:
            tell_held(request, answer)
            return redirect(f"{reverse('gate')}?back={machine.pk}")
    hire = Hire.objects.open().filter(machine=machine).select_related("out_by__user").first()
    context = {
        "machine": machine,
        "hire": hire,
        "form": form,
        "faults": faults,
        "meter": machine.meter_shows,
    }
    return render(request, "servicing/gate_in.html", context)


def _units(request: HttpRequest) -> QuerySet[Machine]:
    out = Exists(Hire.objects.open().filter(machine=OuterRef("pk")))
    return visible_machines(request).filter(Q(for_hire=True, retired_on=None) | out).order_by("tag")


def _with(answers: Iterable[Answer], verdict: Verdict) -> list[Answer]:
    return [answer for answer in answers if answer.verdict == verdict]


def _return_day(answer: Answer) -> tuple[bool, str, str]:
    day = answer.hire.due_back_on if answer.hire else None
    return day is None, str(day or ""), answer.machine.tag


def _overdue(answer: Answer) -> int:
    """Days the unit should have been back; 0 when it isn't late."""
    due = answer.hire.due_back_on if answer.hire else None
    return max((answer.machine.today() - due).days, 0) if due else 0
