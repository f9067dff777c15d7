"""A machine is tagged out, and given back to use by a named person."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.machines import tag_outs
from fleet.models import Machine, TagOut
from fleet.web.guards import MemberRequest, members_only, needs
from servicing.measurements import limits, retest
from servicing.web.forms.tagouts import ClearForm, PlaceForm


@members_only
def tag_out(request: MemberRequest, pk: int) -> HttpResponse:
    """Tag a machine out: anybody who sees the danger may."""
    machine = get_object_or_404(Machine.objects.visible_to(request.member), pk=pk)
    form = PlaceForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            tag_outs.place(machine=machine, member=request.member, **form.cleaned_data)
        except FleetError as error:
            form.add_error(error.field if error.field in form.fields else None, error.sentence)
        else:
            said = _("{machine} is tagged out. Hang the tag on it and take the key.")
            messages.success(request, said.format(machine=machine))
            return redirect(machine)
    standing = machine.tag_outs.open().select_related("placed_by__user")
    return render(request, "servicing/tag_out.html", {"machine": machine, "form": form, "standing": standing})


@needs("clear_tag_outs")
def tag_out_clear(request: MemberRequest, pk: int) -> HttpResponse:
    """Clear a tag-out; where a safety check failed and hasn't passed since, ask for the re-test."""
    shown = get_object_or_404(
        TagOut.objects.select_related("machine", "placed_by__user", "cleared_by__user"), pk=pk
    )
    failed = retest.failing(shown.machine)
    form = ClearForm(request.POST or None, failed=failed)
    status = 200
    if request.method == "POST" and form.is_valid():
        try:
            retest.clear(
                tag_out=shown,
                member=request.member,
                reason=form.cleaned_data["reason"],
                re_tests=form.re_tests(),
            )
        except FleetError as error:
            form.add_error(error.field if error.field in form.fields else None, error.sentence)
            status = 422
        else:
            said = _("{machine} is cleared by {person}.")
            messages.success(request, said.format(machine=shown.machine, person=shown.cleared_by))
            return redirect(shown.machine)
    context = {
        "tag_out": shown,
        "machine": shown.machine,
        "failed": [(each, limits.said(each.lower, each.upper, each.unit)) for each in failed],
        "form": form,
    }
    return render(request, "servicing/tag_out_clear.html", context, status=status)
