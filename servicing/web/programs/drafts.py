"""A draft of a program: gone through task by task, looked at for what it moves, applied or thrown away."""

from itertools import groupby
from typing import TYPE_CHECKING, TypedDict, cast

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.utils.translation import pgettext
from django.views.decorators.http import require_POST, require_safe

from fleet.core.errors import FleetError
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs
from servicing.duties.preview import preview_moves
from servicing.models import ProgramVersion, ServiceProgram, Task, WorkOrder
from servicing.programs import drafts, invented_figures
from servicing.web.forms.program_table import DescribeForm
from servicing.web.forms.program_tasks import ApplyForm, ReplacedForm

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class Lacking(TypedDict):
        """What the page of a draft writes of a task."""

        lacks: list[str]


def draft_or_404(pk: int) -> ProgramVersion:
    """The draft with its program, in the open scope."""
    return get_object_or_404(
        ProgramVersion.objects.drafts().select_related(
            "program__machine_type", "made_by__user", "replaced_by__user"
        ),
        pk=pk,
    )


@require_POST
@needs("manage_fleet")
def program_draft_begin(request: MemberRequest, pk: int) -> HttpResponse:
    """Begin a draft from the version that holds now, or go on with the one there is."""
    shown = get_object_or_404(ServiceProgram, pk=pk)
    version = drafts.copy_current(program=shown, member=request.member)
    return redirect("program-draft", version.pk)


@require_safe
@needs("manage_fleet")
def program_draft(request: MemberRequest, pk: int) -> HttpResponse:
    """Show a draft's tasks, and what is still missing of each."""
    return _draft_page(request, draft_or_404(pk))


@require_POST
@needs("manage_fleet")
def program_replaced(request: MemberRequest, pk: int) -> HttpResponse:
    """Take the word of the one who asks that each invented figure of a draft was replaced from a manual."""
    version = draft_or_404(pk)
    form = ReplacedForm(request.POST)
    if form.is_valid():
        try:
            invented_figures.replaced(
                version=version, member=request.member, manual=form.cleaned_data["manual"]
            )
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, _("Saved with your name: the figures are the maker's."))
            return redirect("program-draft", pk)
    return _draft_page(request, version, form)


def _draft_page(
    request: MemberRequest, version: ProgramVersion, form: ReplacedForm | None = None
) -> HttpResponse:
    tasks = list(version.tasks.prefetch_related("intervals", "checks", "needs", "without"))
    for task in tasks:
        lacks = [
            (not task.minutes, pgettext("missing of a task", "minutes")),
            (not task.steps, pgettext("missing of a task", "steps")),
            (not task.place, pgettext("missing of a task", "the place")),
            (not task.prepare, pgettext("missing of a task", "what to prepare")),
        ]
        cast("WithAnnotations[Task, Lacking]", task).lacks = [word for missing, word in lacks if missing]
    context = {"version": version, "tasks": tasks, "form": form or ReplacedForm()}
    return render(request, "servicing/program_draft.html", context, status=422 if form else 200)


@needs("manage_fleet")
def program_about(request: MemberRequest, pk: int) -> HttpResponse:
    """Change the program's name, source, places and fitments."""
    version = draft_or_404(pk)
    shown = version.program
    initial = {"title": shown.title, "source": shown.source, "round": "\n".join(shown.round)}
    form = DescribeForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        entry = form.cleaned_data
        places = [slugify(line) for line in entry["round"].splitlines() if slugify(line)]
        try:
            drafts.describe(version=version, **{**entry, "round": list(dict.fromkeys(places))})
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, _("The changes are saved."))
            return redirect("program-draft", version.pk)
    context = {"version": version, "form": form, "fitments": shown.machine_type.fitments.all()}
    return render(request, "servicing/program_about.html", context, status=422 if form.errors else 200)


@needs("manage_fleet")
def program_apply(request: MemberRequest, pk: int) -> HttpResponse:
    """Show which machines' marks would move and how; then apply the draft."""
    version = draft_or_404(pk)
    form = ApplyForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            drafts.apply(version=version, member=request.member, note=form.cleaned_data["note"])
        except FleetError as error:
            show(error, form)
        else:
            said = _("{programme} is in use now. We are working out what is due.")
            messages.success(request, said.format(programme=version))
            return redirect("program", version.program_id)
    moves = preview_moves(version=version)
    machines = [
        {"machine": machine, "moves": list(group)}
        for machine, group in groupby(moves, key=lambda move: move.machine)
    ]
    return render(
        request,
        "servicing/program_apply.html",
        {
            "version": version,
            "form": form,
            "machines": machines,
            "move_count": len(moves),
            "overdue_count": sum(move.is_overdue for move in moves),
            "orders": WorkOrder.objects.open()
            .filter(lines__task__version__program=version.program)
            .select_related("machine")
            .distinct(),
            "task_count": Task.objects.filter(version=version).count(),
        },
        status=422 if form.errors else 200,
    )


@require_POST
@needs("manage_fleet")
def program_discard(request: MemberRequest, pk: int) -> HttpResponse:
    """Throw a draft away."""
    version = draft_or_404(pk)
    name = version.program.title
    drafts.discard(version=version)
    messages.success(request, _("The draft of {programme} is thrown away.").format(programme=name))
    return redirect("programs")
