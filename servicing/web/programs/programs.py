"""Service programs, to read: the maker's table with all that a task needs."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from fleet.web.guards import MemberRequest, members_only
from servicing.models import ProgramVersion, Task


@members_only
def programs(request: MemberRequest) -> HttpResponse:
    """List the programs in use, and the drafts for those who may apply them."""
    versions = ProgramVersion.objects.select_related("program__machine_type").with_counts()
    context = {
        "versions": versions.current().order_by("program__title"),
        "drafts": versions.drafts().order_by("program__title") if request.may.manage_fleet else (),
    }
    return render(request, "servicing/programs.html", context)


@members_only
def program(request: MemberRequest, pk: int) -> HttpResponse:
    """Show the current version of one program, task by task."""
    version = get_object_or_404(
        ProgramVersion.objects.current().select_related(
            "program__machine_type", "made_by__user", "replaced_by__user"
        ),
        program=pk,
    )
    tasks = Task.objects.filter(version=version).prefetch_related(
        "intervals", "checks", "cautions", "tools", "supplies__part", "needs", "without"
    )
    versions = ProgramVersion.objects.filter(program=pk).select_related("made_by__user", "replaced_by__user")
    context = {"version": version, "tasks": tasks, "versions": versions}
    return render(request, "servicing/program.html", context)
