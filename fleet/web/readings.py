"""Hours are entered, the receipt is shown, and all of a machine's readings are listed."""

from datetime import datetime, time, timedelta

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from fleet import readings
from fleet.core.number_reader import read_whole
from fleet.core.wording import hours
from fleet.models import Decision, Machine, Reading
from fleet.models.meter import ReadingQuerySet
from fleet.readings.submission import DUPLICATE, REFUSED
from fleet.web.forms.readings import ReadingForm, UntilForm
from fleet.web.guards import MemberRequest, members_only

PAGE = 25


@members_only
def new(request: MemberRequest) -> HttpResponse:
    """Enter hours, of the machine in `?machine=` or of one to choose; `?shows=` is filled in."""
    asked = _asked_for(request)
    if request.method != "POST":
        begun = {"machine": asked, "shows": request.GET.get("shows", "")[:12]}
        form = ReadingForm(member=request.member, initial=begun)
        return render(request, "fleet/reading_new.html", {"form": form, "asked": asked})
    form = ReadingForm(request.POST, member=request.member)
    if form.is_valid():
        (receipt,) = readings.take(
            organisation=request.organisation,
            rows=[form.submitted()],
            source=Reading.Source.PAGE,
            sender="page",
            member=request.member,
        )
        if receipt.state == REFUSED:
            form.add_error(None, receipt.reason)
        elif receipt.state == DUPLICATE and (known := receipt.reading) and not form.tells(known):
            form.renew()
            sentence = _(
                "This page had sent {hours} for {machine} already, and that is kept. "
                "Send again to hand in the new figure as well."
            )
            form.add_error(None, sentence.format(hours=hours(known.shows), machine=known.machine))
        else:
            return redirect("reading", receipt.reading_id)
    return render(request, "fleet/reading_new.html", {"form": form, "asked": asked}, status=422)


def _asked_for(request: MemberRequest) -> Machine | None:
    """The machine the address names; 404 for a stranger's."""
    asked = request.GET.get("machine", "")
    if not asked:
        return None
    machines = Machine.objects.visible_to(request.member).metered()
    machines = machines.select_related("type", "yard__organisation")
    return get_object_or_404(machines, pk=read_whole(asked))


@members_only
def reading(request: MemberRequest, pk: int) -> HttpResponse:
    """Show one reading: what became of it, what may have been meant, and what was decided about it."""
    return reading_page(request, get_object_or_404(shown(), pk=pk))


@members_only
def of_machine(request: MemberRequest, pk: int) -> HttpResponse:
    """List a machine's readings, the newest first; with `?until=`, those up to that day of its yard."""
    metered = Machine.objects.visible_to(request.member).metered()
    machine = get_object_or_404(metered.select_related("type", "yard__organisation"), pk=pk)
    form = UntilForm(request.GET or None)
    listed = machine.readings.select_related("taken_by__user", "token")
    if form.is_valid() and (until := form.cleaned_data["until"]):
        end = datetime.combine(until + timedelta(days=1), time(), machine.zoneinfo)
        listed = listed.filter(taken_at__lt=end)
    page = Paginator(listed, PAGE).get_page(request.GET.get("page"))
    return render(request, "fleet/readings.html", {"machine": machine, "form": form, "page": page})


def reading_page(request: MemberRequest, reading: Reading, *, refusal: str = "") -> HttpResponse:
    """Answer with a reading as it stands; with a refusal, with that and 409."""
    kept = list(reading.decisions.select_related("by__user", "made"))
    undone = {decision.undoes_id for decision in kept}
    standing = [
        decision
        for decision in kept
        if decision.pk not in undone and decision.kind not in Decision.NEVER_UNDONE
    ]
    context = {
        "reading": reading,
        "refusal": refusal,
        "decisions": kept,
        "standing": standing[-1] if standing else None,
    }
    return render(request, "fleet/reading.html", context, status=409 if refusal else 200)


def wall_time(reading: Reading) -> str:
    """The time at which a reading was likely taken, on the clock of the machine's yard."""
    assert reading.suggested_at is not None
    return f"{reading.suggested_at.astimezone(reading.machine.zoneinfo):%Y-%m-%dT%H:%M}"


def shown() -> ReadingQuerySet:
    """Readings with all that is told of them."""
    return Reading.objects.select_related(
        "machine__type",
        "machine__yard__organisation",
        "segment",
        "taken_by__user",
        "token",
        "decided_by__user",
        "corrects",
    ).prefetch_related("photos__taken_by__user")
