"""Gate: can it go out, who has it, and is it back?"""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, timedelta
from itertools import chain
from typing import Any, cast

from django.contrib import messages
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.core.number_reader import read_whole
from fleet.models import Hire, Machine
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs
from servicing import gate as process
from servicing.duties import nothing_known
from servicing.gate import Answer, Verdict
from servicing.web.beside import beside
from servicing.web.filters import AheadFilter
from servicing.web.forms.faults import BaseWalkRound, WalkRound
from servicing.web.forms.gate import InForm
from servicing.web.gate_out import tell_held, visible_machines

SOON = timedelta(days=3)
KEPT_IN = (Verdict.TAGGED_OUT, Verdict.IN_SHOP)


@needs("gate")
def gate(request: MemberRequest) -> HttpResponse:
    """List the rental units by what can be done with them, one of them beside; after a return, the answer
    stands at the top.
    """
    chosen = AheadFilter(request.GET, queryset=_units(request), request=request)
    units = {machine.pk: machine for machine in chosen.qs}
    answers = process.answers(units.values())
    ready = _with(answers.values(), Verdict.READY)
    out = [(each, _overdue(each)) for each in sorted(answers.values(), key=_return_day) if each.hire]
    soon = len(out) if chosen.form.has_changed() else _how_many_soon(out, request.organisation.today())
    by_category = _by_category(ready)
    first = next(chain(*(group for _category, group in by_category), answers.values()), None)
    usual = first.machine.pk if first else None
    shown = beside(request.GET.get("beside", ""), request.member, usual=usual)
    return render(
        request,
        "servicing/gate.html",
        {
            "filter": chosen,
            "invented": any(answer.invented for answer in answers.values()),
            "back": answers.get(read_whole(request.GET.get("back", "")) or 0),
            "out_count": len(out),
            "out": out[:soon],
            "out_later": out[soon:],
            "ready": by_category,
            "ready_count": len(ready),
            "beside": shown,
            "beside_answer": answers.get(shown.machine.pk) if shown else None,
            "unknown": nothing_known.missing() if answers else "",
            "has_units": bool(answers) or chosen.form.has_changed(),
            "service_first": _with(answers.values(), Verdict.SERVICE_FIRST),
            "kept_in": [a for a in answers.values() if a.verdict in KEPT_IN and not a.hire],
        },
    )


@needs("gate")
def gate_in(request: MemberRequest, pk: int) -> HttpResponse:
    """Take a unit back, with its hours, fuel and what the walk round showed."""
    machine = get_object_or_404(visible_machines(request), pk=pk)
    hire = _hire(request, machine)
    form = InForm(request.POST or None)
    faults = cast(BaseWalkRound, WalkRound(request.POST or None, request.FILES or None, prefix="faults"))
    if request.method == "POST" and form.is_valid() & faults.is_valid():
        entered = [process.FaultSeen(**fault) for fault in faults.entered]
        try:
            answer = _back(request, machine, hire, faults=entered, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            tell_held(request, answer)
            return redirect(f"{reverse('gate')}?back={machine.pk}")
        hire = _hire(request, machine)
    context = {
        "machine": machine,
        "hire": hire,
        "ended": hire and hire.back_at,
        "form": form,
        "faults": faults,
        "meter": machine.meter_shows,
    }
    return render(request, "servicing/gate_in.html", context)


def _hire(request: MemberRequest, machine: Machine) -> Hire | None:
    """The hire the page is about: the one it was made for, else the open one.

    Where somebody took the unit back before the page said for which hire it was made, it is about the last.
    """
    hires = Hire.objects.with_people().filter(machine=machine)
    asked = read_whole(request.POST.get("hire", ""))
    if asked is not None:
        return hires.filter(pk=asked).first()
    last = process.last_hire(machine) if request.method == "POST" else None
    return hires.open().first() or last


def _back(request: MemberRequest, machine: Machine, hire: Hire | None, **entered: Any) -> Answer:
    """Take the unit back, or keep beside somebody else's return what this person saw, as the button says."""
    if "late" in request.POST and hire:
        kept = process.add_to_return(hire=hire, member=request.member, **entered)
        messages.success(request, _("Added to the return of {machine}.").format(machine=machine))
        return kept
    return process.check_in(machine=machine, member=request.member, hire=hire, **entered)


def _units(request: MemberRequest) -> QuerySet[Machine]:
    out = Exists(Hire.objects.open().filter(machine=OuterRef("pk")))
    return visible_machines(request).filter(Q(for_hire=True, retired_on=None) | out).order_by("tag")


def _with(answers: Iterable[Answer], verdict: Verdict) -> list[Answer]:
    return [answer for answer in answers if answer.verdict == verdict]


def _by_category(answers: Iterable[Answer]) -> list[tuple[str, list[Answer]]]:
    """Answers by the category of their machine, categories by name."""
    found: dict[str, list[Answer]] = defaultdict(list)
    for each in answers:
        found[each.machine.type.get_category_display()].append(each)
    return sorted(found.items())


def _return_day(answer: Answer) -> tuple[bool, str, str]:
    day = answer.hire.due_back_on if answer.hire else None
    return day is None, str(day or ""), answer.machine.tag


def _how_many_soon(out: Iterable[tuple[Answer, int]], today: date) -> int:
    """How many of those out, in the order of their return, are due back within SOON."""
    days = (each.hire.due_back_on for each, _late in out if each.hire)
    return sum(1 for day in days if day is not None and day <= today + SOON)


def _overdue(answer: Answer) -> int:
    """Days the unit should have been back; 0 when it isn't late."""
    due = answer.hire.due_back_on if answer.hire else None
    return max((answer.machine.today() - due).days, 0) if due else 0
