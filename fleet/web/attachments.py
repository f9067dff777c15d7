"""Attachments: what hangs on which machine, and how far each has run."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.machines import attachments, register
from fleet.models import Attachment, Mounting
from fleet.models.attachment import AttachmentQuerySet
from fleet.web.forms.machines import AttachmentForm, MomentForm, MountForm
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, members_only, needs

PAGE = 20


@members_only
def listed(request: MemberRequest) -> HttpResponse:
    """List the attachments with their hours and hosts."""
    page = Paginator(_attachments().in_service().order_by("tag"), PAGE).get_page(request.GET.get("page"))
    return render(request, "fleet/attachments.html", {"page": page})


@needs("manage_fleet")
def new(request: MemberRequest) -> HttpResponse:
    """Enter an attachment."""
    form = AttachmentForm(request.POST if request.method == "POST" else None, member=request.member)
    if request.method == "POST" and form.is_valid():
        try:
            made = register.register_attachment(member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, _("{what} is added.").format(what=made))
            return redirect("attachments")
    return render(request, "fleet/attachment_new.html", {"form": form}, status=422 if form.errors else 200)


@members_only
def mount(request: MemberRequest, pk: int) -> HttpResponse:
    """Hang an attachment on a machine."""
    attachment = get_object_or_404(_attachments(), pk=pk)
    form = MountForm(request.POST if request.method == "POST" else None, member=request.member)
    if request.method == "POST" and form.is_valid():
        try:
            mounting = attachments.mount(
                attachment=attachment,
                machine=form.cleaned_data["machine"],
                at=form.cleaned_data["at"] or timezone.now(),
                member=request.member,
            )
        except FleetError as error:
            show(error, form)
        else:
            sentence = _("{attachment} is mounted on {machine}.")
            messages.success(request, sentence.format(attachment=attachment, machine=mounting.machine))
            return redirect("attachments")
    return render(
        request,
        "fleet/attachment_mount.html",
        {"attachment": attachment, "form": form},
        status=422 if form.errors else 200,
    )


@members_only
def remove(request: MemberRequest, pk: int) -> HttpResponse:
    """Take an attachment off the machine it hangs on."""
    attachment = get_object_or_404(_attachments(), pk=pk)
    if not attachment.host:
        messages.info(request, _("{attachment} is not mounted on a machine.").format(attachment=attachment))
        return redirect("attachments")
    machine = attachment.host[0].machine
    form = MomentForm(request.POST if request.method == "POST" else None, machine=machine)
    if request.method == "POST" and form.is_valid():
        try:
            attachments.remove(
                attachment=attachment, at=form.cleaned_data["at"] or timezone.now(), member=request.member
            )
        except FleetError as error:
            show(error, form)
        else:
            sentence = _("{attachment} is removed from {machine}.")
            messages.success(request, sentence.format(attachment=attachment, machine=machine))
            return redirect("attachments")
    return render(
        request,
        "fleet/attachment_remove.html",
        {"attachment": attachment, "machine": machine, "form": form},
        status=422 if form.errors else 200,
    )


def _attachments() -> AttachmentQuerySet:
    """Attachments with type, yard and `host`: a list of the open mounting, if any."""
    host = Mounting.objects.open().select_related("machine__yard__organisation", "machine__type")
    return Attachment.objects.select_related("type", "yard").prefetch_related(
        Prefetch("mountings", queryset=host, to_attr="host")
    )
