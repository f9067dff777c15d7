"""Faults: what is broken on which machine, has it been so before, and who puts it right?"""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.core.errors import FleetError
from fleet.core.number_reader import read_whole
from fleet.models import Machine
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, members_only, needs
from servicing import workorders
from servicing.gate.faults import judge_again, open_by_machine, report_fault
from servicing.models import Fault
from servicing.web.forms.faults import FaultForm, JudgeForm


@members_only
def fault_list(request: MemberRequest) -> HttpResponse:
    """List the open faults by machine, repeated ones together."""
    machines = open_by_machine()
    standing = [each for faults in machines for each in faults.standing]
    return render(
        request,
        "servicing/faults.html",
        {
            "machines": machines,
            "number": len(standing),
            "repeated": sum(each.times > 1 for each in standing),
            "stopping": sum(each.fault.severity == Fault.Severity.STOPS for each in standing),
        },
    )


@members_only
def fault_report(request: MemberRequest) -> HttpResponse:
    """Ask on which machine the fault is; with ?machine= ask for the fault itself."""
    machines = Machine.objects.visible_to(request.member).in_service().select_related("type").order_by("tag")
    asked = request.GET.get("machine", "")
    if asked:
        machine = get_object_or_404(machines, pk=read_whole(asked))
        return render(request, "servicing/fault_new.html", {"machine": machine, "form": FaultForm()})
    return render(request, "servicing/fault_report.html", {"machines": machines})


@members_only
def fault_new(request: MemberRequest, pk: int) -> HttpResponse:
    """Report a fault."""
    machine = get_object_or_404(Machine.objects.visible_to(request.member), pk=pk)
    form = FaultForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        try:
            fault = report_fault(machine=machine, member=request.member, **form.cleaned_data)
        except FleetError as error:
            form.add_error(error.field if error.field in form.fields else None, error.sentence)
        else:
            messages.success(
                request, _("Fault reported on {machine}: {fault}").format(machine=machine, fault=fault)
            )
            return redirect(machine)
    return render(request, "servicing/fault_new.html", {"machine": machine, "form": form})


@needs("plan_orders")
def fault_judge(request: MemberRequest, pk: int) -> HttpResponse:
    """Say anew how bad a fault is."""
    fault = get_object_or_404(Fault.objects.open().select_related("machine__type"), pk=pk)
    form = JudgeForm(request.POST or None, initial={"severity": fault.severity})
    if request.method == "POST" and form.is_valid():
        try:
            fault = judge_again(fault=fault, member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(
                request,
                _("Severity changed for the fault on {machine}.").format(machine=fault.machine),
            )
            return redirect("faults")
    context = {"judged": fault, "form": form}
    return render(request, "servicing/fault_judge.html", context, status=422 if form.errors else 200)


@require_POST
@needs("plan_orders")
def fault_order(request: MemberRequest, pk: int) -> HttpResponse:
    """Make an order of one fault, in one step; it can be assigned on its page."""
    fault = get_object_or_404(Fault.objects.open().select_related("machine__yard__organisation"), pk=pk)
    try:
        order = workorders.plan(member=request.member, machine=fault.machine, faults=[fault])
    except FleetError as error:
        messages.warning(request, error.sentence)
        return redirect("faults")
    messages.success(request, _("{order} is planned to fix it. Assign it here.").format(order=order))
    return redirect(order)
