"""An hour meter was replaced, or rolled over."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet import meters
from fleet.errors import FleetError
from fleet.models import Machine
from fleet.templatetags.figures import hours
from fleet.web.forms.meters import MeterForm
from fleet.web.forms.refusals import show
from fleet.web.guards import needs


@needs("manage_fleet")
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Record what happened to a machine's meter."""
    machine = get_object_or_404(Machine.objects.select_related("type", "yard__organisation"), pk=pk)
    form = MeterForm(request.POST if request.method == "POST" else None, machine=machine)
    if request.method == "POST" and form.is_valid():
        entered = form.cleaned_data
        at = entered["at"] or timezone.now().replace(microsecond=0)
        common = {"machine": machine, "at": at, "member": request.member, "note": entered["note"]}
        try:
            if entered["happened"] == "replaced":
                segment = meters.replace(
                    old_shows=entered["old_shows"], new_shows=entered["new_shows"], **common
                )
            else:
                segment = meters.roll_over(wraps_at=entered["wraps_at"], **common)
        except FleetError as error:
            show(error, form)
        else:
            total = hours(segment.shows_at_start + segment.offset)
            messages.success(request, f"The new meter is noted; {machine} goes on from {total} in all.")
            return redirect("machine", pk)
    last = machine.readings.counted().first()
    return render(
        request,
        "fleet/meter.html",
        {"machine": machine, "form": form, "last": last},
        status=422 if form.errors else 200,
    )
