"""Held readings: which wait, and what a person decides about each."""

from datetime import datetime
from decimal import Decimal

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.core.errors import AskFirst, FleetError, WrongState
from fleet.core.wording import hours
from fleet.models import Reading
from fleet.readings import decisions
from fleet.readings.diagnosis import case_of, cases, with_neighbours
from fleet.web.forms.readings import DecisionForm
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs
from fleet.web.readings import reading_page, shown, wall_time

PAGE = 25


@needs("decide_readings")
def held(request: MemberRequest) -> HttpResponse:
    """List the readings that wait, each with its neighbours and what may lie behind it."""
    page = Paginator(with_neighbours(shown().held()), PAGE).get_page(request.GET.get("page"))
    return render(request, "fleet/held_readings.html", {"page": page, "cases": cases(list(page))})


@needs("decide_readings")
def decide(request: MemberRequest, pk: int) -> HttpResponse:
    """Count, correct or discard one held reading; correct or discard one that was counted and is wrong."""
    reading = get_object_or_404(with_neighbours(shown()), pk=pk)
    held = reading.state == Reading.State.HELD
    if reading.state == Reading.State.DISCARDED and request.method != "POST":
        return redirect("reading", pk)
    form = DecisionForm(
        request.POST if request.method == "POST" else None,
        reading=reading,
        initial=_likely(reading),
    )
    if request.method == "POST" and form.is_valid():
        try:
            sentence = _carry_out(request, reading, **form.cleaned_data)
        except WrongState as error:
            return _refused(request, pk, error)
        except AskFirst as error:
            form.ask(error.sentence)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, sentence)
            return redirect("held-readings") if held else redirect("machine", reading.machine_id)
    context = {"reading": reading, "form": form, "case": case_of(reading) if held else None}
    return render(request, "fleet/held_reading.html", context, status=422 if form.errors else 200)


@require_POST
@needs("decide_readings")
def swap(request: MemberRequest, pk: int, other: int) -> HttpResponse:
    """Put two machines' readings, written down for each other, where they belong."""
    mine, theirs = (get_object_or_404(shown(), pk=each) for each in (pk, other))
    try:
        decisions.swap(reading=mine, other=theirs, member=request.member)
    except FleetError as error:
        return _refused(request, pk, error)
    sentence = _("{machine} now has {hours}, and {other_machine} has {other_hours}.").format(
        machine=mine.machine,
        hours=hours(theirs.shows),
        other_machine=theirs.machine,
        other_hours=hours(mine.shows),
    )
    messages.success(request, sentence)
    return redirect("held-readings")


@require_POST
@needs("decide_readings")
def undo(request: MemberRequest, pk: int) -> HttpResponse:
    """Undo the last decision about a reading."""
    reading = get_object_or_404(shown(), pk=pk)
    try:
        reading = decisions.undo(
            reading=reading, member=request.member, note=request.POST.get("note", "")[:2000]
        )
    except FleetError as error:
        return _refused(request, pk, error)
    messages.success(request, _undone(reading))
    return redirect("reading", pk)


def _undone(reading: Reading) -> str:
    sentences = {
        Reading.State.COUNTED: _("Undone: {hours} is counted."),
        Reading.State.HELD: _("Undone: {hours} is held."),
        Reading.State.DISCARDED: _("Undone: {hours} is discarded."),
    }
    return sentences[Reading.State(reading.state)].format(hours=hours(reading.shows))


def _refused(request: MemberRequest, pk: int, error: FleetError) -> HttpResponse:
    """Show the reading as it stands, and why the decision wasn't carried out."""
    return reading_page(request, shown().get(pk=pk), refusal=error.sentence)


def _likely(reading: Reading) -> dict[str, object]:
    """What is filled in beforehand: the figure or the time that was likely meant."""
    if reading.suggested_at:
        return {"decision": "correct", "shows": reading.shows, "taken_at": wall_time(reading)}
    return {"decision": "correct", "shows": reading.suggestion} if reading.suggestion else {}


def _carry_out(
    request: MemberRequest,
    reading: Reading,
    *,
    decision: str,
    shows: Decimal | None,
    taken_at: datetime | None,
    note: str,
    confirmed: bool,
) -> str:
    """Call the process that was chosen; return what to tell."""
    member, tag = request.member, reading.machine.tag
    if decision == "count":
        decisions.count(reading=reading, member=member, note=note, confirmed=confirmed)
        return _("{hours} of {tag} was counted.").format(hours=hours(reading.shows), tag=tag)
    if decision == "discard":
        decisions.discard(reading=reading, member=member, note=note)
        return _("{hours} of {tag} was discarded.").format(hours=hours(reading.shows), tag=tag)
    assert shows is not None  # the form asks for it
    new = decisions.correct(reading=reading, shows=shows, member=member, note=note, taken_at=taken_at)
    sentence = _("{tag} now has {hours} instead of {former_hours}.")
    return sentence.format(tag=tag, hours=hours(new.shows), former_hours=hours(reading.shows))
