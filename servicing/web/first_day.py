"""The list of first steps on Today: a step is waved off or taken up again, the list closed or shown again."""

from collections.abc import Callable

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.accounts import setup
from fleet.core.errors import FleetError
from fleet.models import SetupStep
from fleet.web.guards import MemberRequest, needs
from servicing.first_day.checklist import checklist


@require_POST
@needs("manage_fleet")
def wave_off(request: MemberRequest, step: str) -> HttpResponse:
    """Note that a step isn't needed here."""
    return _decided(request, step, setup.wave_off)


@require_POST
@needs("manage_fleet")
def take_up(request: MemberRequest, step: str) -> HttpResponse:
    """Lead to a step again that was waved off."""
    return _decided(request, step, setup.take_up)


@needs("manage_fleet")
def close(request: MemberRequest) -> HttpResponse:
    """Close the list; before that, say what is left open."""
    if request.method == "POST":
        if setup.close(member=request.member):
            messages.success(request, _("The list is closed. An owner can show it again under Settings."))
        return redirect("today")
    return render(request, "servicing/first_day_close.html", {"list": checklist(request.member)})


@require_POST
@needs("manage_fleet")
def reopen(request: MemberRequest) -> HttpResponse:
    """Show the list on Today again."""
    setup.reopen(member=request.member)
    return redirect("today")


def _decided(request: MemberRequest, step: str, decide: Callable[..., object]) -> HttpResponse:
    if step not in SetupStep.Code.values:
        raise Http404
    try:
        decide(step=step, member=request.member)
    except FleetError as error:
        messages.error(request, error.sentence)
    return redirect("today")
