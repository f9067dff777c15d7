"""An hour meter was replaced, or rolled over."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.core.number_reader import read_whole
from fleet.core.wording import exact, hours
from fleet.models import Machine, MeterSegment
from fleet.readings import meter_changes
from fleet.readings.diagnosis import MeterChange, proposed_change
from fleet.web.forms.meters import ReplacedForm, RolledOverForm
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs

HAPPENED: dict[str, tuple[type[ReplacedForm] | type[RolledOverForm], Callable[..., MeterSegment]]] = {
    "replaced": (ReplacedForm, meter_changes.replace),
    "rolled over": (RolledOverForm, meter_changes.roll_over),
}


@needs("manage_fleet")
def change(request: MemberRequest, pk: int) -> HttpResponse:
    """Record what happened to a machine's meter."""
    machine = get_object_or_404(Machine.objects.metered().select_related("type", "yard__organisation"), pk=pk)
    held = read_whole(request.GET.get("held", ""))
    proposed = None if held is None else proposed_change(machine, held)
    forms = {
        name: form(
            machine=machine, auto_id=f"id_{form.__name__}_%s", initial=_likely(name, machine, proposed)
        )
        for name, (form, _process) in HAPPENED.items()
    }
    happened = request.POST.get("happened", "")
    if request.method == "POST" and happened in HAPPENED:
        kind, process = HAPPENED[happened]
        form = forms[happened] = kind(request.POST, machine=machine, auto_id=forms[happened].auto_id)
        if form.is_valid():
            entered = form.cleaned_data
            del entered["happened"]
            entered["at"] = entered["at"] or timezone.now().replace(microsecond=0)
            try:
                segment = process(machine=machine, member=request.member, **entered)
            except FleetError as error:
                show(error, form)
            else:
                total = hours(segment.shows_at_start + segment.offset)
                sentence = _("The new meter is recorded. {machine} goes on from {total} in total.")
                messages.success(request, sentence.format(machine=machine, total=total))
                return redirect("machine", pk)
    return render(
        request,
        "fleet/meter.html",
        {
            "machine": machine,
            "replaced": forms["replaced"],
            "rolled_over": forms["rolled over"],
            "last": machine.readings.counted().first(),
            "proposed": proposed,
        },
        status=422 if request.method == "POST" else 200,
    )


def _likely(happened: str, machine: Machine, proposed: MeterChange | None) -> dict[str, object]:
    """What is filled in beforehand when a held reading speaks for a change of the meter."""
    if proposed is None or (proposed.wraps_at is not None) != (happened == "rolled over"):
        return {}
    at = f"{proposed.at.astimezone(machine.zoneinfo):%Y-%m-%dT%H:%M}"
    if proposed.wraps_at is not None:
        return {"at": at, "wraps_at": f"{proposed.wraps_at:.0f}"}
    return {"at": at, "old_shows": exact(proposed.old_shows), "new_shows": exact(proposed.new_shows)}
