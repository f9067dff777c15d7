"""Machines and types are entered, changed and retired."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.core.errors import FleetError
from fleet.machines import register, retirement
from fleet.models import Machine
from fleet.web.forms.machines import MachineForm, RetireForm, TypeForm
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs


@needs("manage_fleet")
def new(request: MemberRequest) -> HttpResponse:
    """Enter a machine."""
    form = MachineForm(request.POST if request.method == "POST" else None, member=request.member)
    if request.method == "POST" and form.is_valid():
        try:
            machine = register.register(
                facts=form.facts(),
                member=request.member,
                fitments=form.cleaned_data.get("fitments", ()),
                hours_at_start=form.cleaned_data["hours_at_start"],
            )
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, _("{what} is added.").format(what=machine))
            return redirect("machine", machine.pk)
    return render(request, "fleet/machine_new.html", {"form": form}, status=422 if form.errors else 200)


@needs("manage_fleet")
def edit(request: MemberRequest, pk: int) -> HttpResponse:
    """Change the facts of a machine."""
    machine = _machine(pk)
    form = MachineForm(
        request.POST if request.method == "POST" else None, member=request.member, machine=machine
    )
    if request.method == "POST" and form.is_valid():
        try:
            register.change(
                machine=machine,
                facts=form.facts(),
                member=request.member,
                fitments=form.cleaned_data.get("fitments", ()),
            )
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, _("The changes are saved."))
            return redirect("machine", pk)
    return _edit_page(request, machine, form, RetireForm(initial={"on": machine.today()}))


@require_POST
@needs("manage_fleet")
def retire(request: MemberRequest, pk: int) -> HttpResponse:
    """Take a machine out of service."""
    machine = _machine(pk)
    form = RetireForm(request.POST)
    if form.is_valid():
        try:
            retirement.retire(machine=machine, on=form.cleaned_data["on"], member=request.member)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, _("{machine} is retired. Its history stays.").format(machine=machine))
            return redirect("machine", pk)
    return _edit_page(request, machine, MachineForm(member=request.member, machine=machine), form)


@require_POST
@needs("manage_fleet")
def bring_back(request: MemberRequest, pk: int) -> HttpResponse:
    """Take a retired machine into service again."""
    machine = retirement.bring_back(machine=_machine(pk), member=request.member)
    messages.success(request, _("{machine} is in service again.").format(machine=machine))
    return redirect("machine", pk)


@needs("manage_fleet")
def type_new(request: MemberRequest) -> HttpResponse:
    """Enter a make and model."""
    form = TypeForm(request.POST if request.method == "POST" else None, member=request.member)
    if request.method == "POST" and form.is_valid():
        try:
            made = register.register_type(member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, _("{what} is added. You can choose it now.").format(what=made))
            return redirect("attachment-new" if made.category == "attachment" else "machine-new")
    return render(request, "fleet/type_new.html", {"form": form}, status=422 if form.errors else 200)


def _machine(pk: int) -> Machine:
    return get_object_or_404(Machine.objects.select_related("type", "yard__organisation"), pk=pk)


def _edit_page(
    request: MemberRequest, machine: Machine, form: MachineForm, retire_form: RetireForm
) -> HttpResponse:
    return render(
        request,
        "fleet/machine_edit.html",
        {"machine": machine, "form": form, "retire_form": retire_form},
        status=422 if form.errors or retire_form.errors else 200,
    )
