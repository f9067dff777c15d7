"""A program file that was sent: being read, refused with what to put right, or on to its draft."""

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django_htmx.http import HttpResponseClientRefresh

from fleet.core.errors import FleetError
from fleet.web.guards import MemberRequest, needs
from servicing.models import ProgramVersion, SentProgram
from servicing.programs import uploads
from servicing.programs.file_format import ProgramFaults


@needs("manage_fleet")
def program_load(request: MemberRequest) -> HttpResponse:
    """Send a YAML file, of which a worker makes a draft."""
    faults: list[str] = []
    if request.method == "POST":
        upload = request.FILES.get("file")
        try:
            if upload is None:
                raise ProgramFaults([_("Choose a file.")])
            sent = uploads.receive(upload=upload, member=request.member, trial="invented" in request.POST)
        except ProgramFaults as error:
            faults = error.faults
        except FleetError as error:
            faults = [error.sentence]
        else:
            return redirect("program-sent", sent.pk)
    context = {"faults": faults, "demo": settings.DEMO}
    return render(request, "servicing/program_load.html", context, status=422 if faults else 200)


@needs("manage_fleet")
def program_sent(request: MemberRequest, pk: int) -> HttpResponse:
    """Say how far a file is; a POST has one that was refused read once more."""
    sent = get_object_or_404(
        SentProgram.objects.select_related("version", "sent_by__user").defer("written"), pk=pk
    )
    if request.method == "POST":
        try:
            uploads.again(sent=sent, member=request.member, trial="invented" in request.POST)
        except FleetError as error:
            messages.error(request, error.sentence)
        return redirect("program-sent", pk)
    if request.htmx and sent.state != SentProgram.State.READING:
        return HttpResponseClientRefresh()
    if sent.state == SentProgram.State.LOADED and sent.version:
        if sent.version.state == ProgramVersion.State.DRAFT:
            return redirect("program-draft", sent.version_id)
        if not request.htmx and sent.version.made_at < sent.sent_at:
            messages.info(request, _("Nothing to load: the file and the programme are the same."))
        return redirect("program", sent.version.program_id)
    seconds = (timezone.now() - sent.sent_at).total_seconds()
    context = {"sent": sent, "seconds": seconds, "demo": settings.DEMO}
    return render(request, "servicing/program_sent.html", context)
