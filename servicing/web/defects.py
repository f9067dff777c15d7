"""A fault is reported on a machine."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.errors import FleetError
from fleet.models import Machine
from fleet.web.guards import members_only
from servicing import defects
from servicing.web.forms.defects import DefectForm


@members_only
def defect_new(request: HttpRequest, pk: int) -> HttpResponse:
    """Report a fault."""
    machine = get_object_or_404(Machine.objects.visible_to(request.member), pk=pk)
    form = DefectForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        try:
            defect = defects.report(machine=machine, member=request.member, **form.cleaned_data)
        except FleetError as error:
            form.add_error(error.field if error.field in form.fields else None, error.sentence)
        else:
            messages.success(request, f"The fault on {machine} is written down: {defect}")
            return redirect(machine)
    return render(request, "servicing/defect_new.html", {"machine": machine, "form": form})
