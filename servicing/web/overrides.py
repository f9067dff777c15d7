"""One machine departs from its program, and follows it again."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.core.errors import FleetError
from fleet.models import Machine
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs
from servicing.models import TaskOverride
from servicing.programs import overrides
from servicing.web.forms.overrides import DepartForm


@needs("manage_fleet")
def machine_depart(request: MemberRequest, pk: int) -> HttpResponse:
    """Give a task another interval on this machine, or leave it out, with the reason."""
    machine = get_object_or_404(
        Machine.objects.visible_to(request.member).select_related("type", "yard__organisation"), pk=pk
    )
    form = DepartForm(
        request.POST if request.method == "POST" else None,
        machine=machine,
        initial={"task": request.GET.get("task")},
    )
    if request.method == "POST" and form.is_valid():
        try:
            overrides.depart(machine=machine, member=request.member, **form.entry())
        except FleetError as error:
            show(error, form)
        else:
            said = _("Deviation saved for {machine}. We are working out what is due.")
            messages.success(request, said.format(machine=machine))
            return redirect(machine)
    context = {"machine": machine, "form": form, "departures": machine.overrides.with_titles()}
    return render(request, "servicing/machine_depart.html", context, status=422 if form.errors else 200)


@require_POST
@needs("manage_fleet")
def machine_depart_end(request: MemberRequest, pk: int) -> HttpResponse:
    """Let the machine follow its program again."""
    override = get_object_or_404(TaskOverride.objects.select_related("machine"), pk=pk)
    machine = override.machine
    overrides.take_back(override=override)
    said = _("{machine} follows the programme again. We are working out what is due.")
    messages.success(request, said.format(machine=machine))
    return redirect(machine)
