"""Held readings: which wait, and what a person decides about each."""

from datetime import datetime
from decimal import Decimal

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import OuterRef, QuerySet, Subquery
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet import decisions
from fleet.errors import FleetError, WrongState
from fleet.models import Reading
from fleet.templatetags.figures import hours
from fleet.web.forms.readings import DecisionForm
from fleet.web.forms.refusals import show
from fleet.web.guards import needs
from fleet.web.readings import shown

PAGE = 25


@needs("decide_readings")
def held(request: HttpRequest) -> HttpResponse:
    """List the readings that wait, each with its neighbours."""
    page = Paginator(_with_neighbours(shown().held()), PAGE).get_page(request.GET.get("page"))
    return render(request, "fleet/held_readings.html", {"page": page})


@needs("decide_readings")
def decide(request: HttpRequest, pk: int) -> HttpResponse:
    """Count, correct or strike one held reading."""
    reading = get_object_or_404(_with_neighbours(shown()), pk=pk)
    if reading.state != Reading.State.HELD and request.method != "POST":
        return redirect("reading", pk)
    form = DecisionForm(
        request.POST if request.method == "POST" else None,
        reading=reading,
        initial={"shows": reading.suggestion, "decision": "correct" if reading.suggestion else None},
    )
    if request.method == "POST" and form.is_valid():
        try:
            sentence = _carry_out(request, reading, **form.cleaned_data)
        except WrongState as error:
            reading = shown().get(pk=pk)
            return render(
                request, "fleet/reading.html", {"reading": reading, "refusal": error.sentence}, status=409
            )
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, sentence)
            return redirect("held-readings")
    status = 422 if form.errors else 200
    return render(request, "fleet/held_reading.html", {"reading": reading, "form": form}, status=status)


def _carry_out(
    request: HttpRequest,
    reading: Reading,
    *,
    decision: str,
    shows: Decimal | None,
    taken_at: datetime | None,
    note: str,
) -> str:
    """Call the process that was chosen; return what to tell."""
    member, tag = request.member, reading.machine.tag
    if decision == "count":
        decisions.count(reading=reading, member=member, note=note)
        return f"{hours(reading.shows)} of {tag} counts."
    if decision == "strike":
        decisions.strike(reading=reading, member=member, note=note)
        return f"{hours(reading.shows)} of {tag} is struck."
    new = decisions.correct(reading=reading, shows=shows, member=member, note=note, taken_at=taken_at)
    return f"{tag} now has {hours(new.shows)} in the place of {hours(reading.shows)}."


def _with_neighbours(chosen: QuerySet[Reading]) -> QuerySet[Reading]:
    """Add what the same meter counted last before and first after: `before_shows`, `before_at` and so on."""
    counted = Reading.objects.counted().filter(segment=OuterRef("segment"))
    before = counted.filter(taken_at__lt=OuterRef("taken_at")).order_by("-taken_at", "-pk")
    after = counted.filter(taken_at__gt=OuterRef("taken_at")).order_by("taken_at", "pk")
    return chosen.annotate(
        before_shows=Subquery(before.values("shows")[:1]),
        before_at=Subquery(before.values("taken_at")[:1]),
        after_shows=Subquery(after.values("shows")[:1]),
        after_at=Subquery(after.values("taken_at")[:1]),
    )
