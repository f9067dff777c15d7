"""Files of readings: sent, looked at, taken in, and their rejects given back."""

from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from pathlib import PurePath

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe
from django_htmx.http import HttpResponseClientRefresh

from fleet.core.errors import FleetError
from fleet.imports import inspection, sample, uploads
from fleet.imports.first_readings import MOST_MACHINES
from fleet.imports.limits import MEGABYTE, MOST_BYTES, MOST_COLUMNS, MOST_ROWS, MOST_SHEET_ROWS
from fleet.imports.plan import Plan, headings
from fleet.models import Member, SentFile
from fleet.usage.figures import writing
from fleet.web import file_questions
from fleet.web.first_pictures import pictures
from fleet.web.forms.files import PlanForm, SendForm
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs

PAGE = 25
PICTURED = MOST_MACHINES - 1  # one more is kept, to tell whether there are more
PROGRESS = "progress"  # the part of the page that looks again by itself
LIMITS = {
    "megabytes": MOST_BYTES // MEGABYTE,
    "rows": MOST_ROWS,
    "sheet_rows": MOST_SHEET_ROWS,
    "columns": MOST_COLUMNS,
}


@needs("manage_fleet")
def listed(request: MemberRequest) -> HttpResponse:
    """Send a file, and see what became of earlier ones."""
    post = request.method == "POST"
    form = SendForm(request.POST, request.FILES) if post else SendForm()
    if post and form.is_valid():
        try:
            sent = uploads.receive(upload=form.cleaned_data["file"], member=request.member)
        except FleetError as error:
            show(error, form)
        else:
            return redirect("reading-file", sent.pk)
    earlier = SentFile.objects.exclude(state=SentFile.State.DISCARDED).select_related("sent_by__user")
    page = Paginator(earlier, PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "fleet/reading_files.html",
        {"form": form, "page": page, "limits": LIMITS},
        status=422 if form.errors else 200,
    )


@needs("manage_fleet")
def sent_file(request: MemberRequest, pk: int) -> HttpResponse:
    """One file: what its columns hold while it waits, how far it is, what became of it."""
    sent = get_object_or_404(SentFile.objects.select_related("organisation", "sent_by__user"), pk=pk)
    if request.method == "POST" and request.POST.get("do") == "discard":
        return _done(
            request, sent, lambda: uploads.discard(sent=sent, member=request.member), "reading-files"
        )
    if request.method == "POST" and request.POST.get("do") == "again":
        return _done(request, sent, lambda: _again(sent, request.member), "reading-file")
    if sent.state == SentFile.State.WAITING:
        if request.htmx and request.htmx.target == PROGRESS:
            return HttpResponseClientRefresh()  # it was being read; its columns are another page
        return _waiting(request, sent)
    return render(
        request,
        "fleet/reading_file.html",
        {"sent": sent, "seconds": (timezone.now() - sent.sent_at).total_seconds()},
        status=_status(request),
    )


@require_safe
@needs("manage_fleet")
def rejects(request: MemberRequest, pk: int) -> FileResponse:
    """Send the rejected rows as a file to be mended and sent again."""
    sent = get_object_or_404(SentFile, pk=pk)
    return FileResponse(
        BytesIO(b"".join(uploads.rejects_csv(sent, writing().decimal_mark))),
        as_attachment=True,
        filename=f"{PurePath(sent.name).stem}.rejects.csv",
        content_type="text/csv; charset=utf-8",
    )


def _waiting(request: MemberRequest, sent: SentFile) -> HttpResponse:
    """Let a person confirm what the columns hold, beside what would become of the first rows."""
    post = request.method == "POST"
    kept = sample.kept(sent.sample)
    plan = uploads.plan_of(sent)
    form = PlanForm(request.POST if post else None, sample=kept, plan=plan)
    fault = ""
    try:
        if post and form.is_valid() and request.POST.get("do") == "take" and not form.columns_changed:
            uploads.start(sent=sent, plan=form.plan(), member=request.member)
            return redirect("reading-file", sent.pk)
    except FleetError as error:
        fault = error.sentence
    status = 422 if fault or form.errors else 200
    if post:
        form, plan, status = _looked_again(request, sent, form, status)
    courses = uploads.first_courses(sent, plan)
    return render(
        request,
        "fleet/reading_file_columns.html",
        {
            "sent": sent,
            "form": form,
            "told": uploads.preview(sent, plan),
            "plan": plan,
            "names": headings(kept, plan),
            "pictures": pictures(courses[:PICTURED]),
            "more_first": len(courses) > PICTURED,
            "candidates": file_questions.candidates(kept, plan),
            "questions": file_questions.asked(kept, plan),
            "fault": fault,
        },
        status=status,
    )


def _looked_again(
    request: MemberRequest, sent: SentFile, form: PlanForm, status: int
) -> tuple[PlanForm, Plan, int]:
    """The form and the plan to show after one was sent; other columns ask anew what they leave open."""
    kept = sample.kept(sent.sample)
    chosen = form.columns_alone()
    if chosen is None:
        return form, replace(uploads.plan_of(sent), hours=None), 422  # nothing is shown
    if not form.columns_changed:
        return form, form.plan(), status
    plan = uploads.with_columns(sent, chosen)
    return PlanForm(sample=kept, plan=plan), plan, 200


def _again(sent: SentFile, member: Member) -> SentFile:
    """Read once more what couldn't be read, or go on with what was broken off."""
    if sent.state == SentFile.State.UNREAD:
        return inspection.again(sent=sent, member=member)
    return uploads.start(sent=sent, plan=Plan.kept(sent.plan), member=member)


def _done(request: MemberRequest, sent: SentFile, process: Callable[[], object], then: str) -> HttpResponse:
    try:
        process()
    except FleetError as error:
        messages.error(request, error.sentence)
        return redirect("reading-file", sent.pk)
    return redirect(then) if then == "reading-files" else redirect(then, sent.pk)


def _status(request: MemberRequest) -> int:
    """A plan sent for a file that is on its way already changes nothing."""
    return 409 if request.method == "POST" else 200
