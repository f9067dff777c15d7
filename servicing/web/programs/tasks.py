"""One task of a draft, with all that a technician needs to know about it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.web.guards import needs
from servicing.models import ProgramVersion, Task
from servicing.programs import drafts
from servicing.programs.file_format import ProgramFaults
from servicing.web.forms.program_tasks import SETS, SPARE, TaskEditor


@needs("manage_fleet")
def program_task(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a task of a draft; "more rows" brings the same page back, nothing lost and nothing kept."""
    task = _task(pk)
    asked = request.POST.get("do", "save")
    data = request.POST.copy() if request.method == "POST" else None
    if data is not None and asked in SETS:
        total = f"{asked}-TOTAL_FORMS"
        data[total] = str(min(int(data.get(total) or 0) + SPARE, 100))
    editor = TaskEditor(data, task=task, row=drafts.entry_of(task))
    status = 200
    if data is not None and asked not in SETS:
        if editor.is_valid():
            entry = editor.entry()
            try:
                drafts.rewrite_task(
                    task=task, entry=entry, new_places=[entry["place"]] if entry.get("place") else []
                )
            except ProgramFaults as error:
                editor.show(error)
            else:
                messages.success(request, _("“{task}” is saved.").format(task=entry["title"]))
                return redirect("program-draft", task.version_id)
        status = 422
    context = {"task": task, "version": task.version, "editor": editor, "show_errors": status == 422}
    return render(request, "servicing/program_task.html", context, status=status)


@require_POST
@needs("manage_fleet")
def program_task_remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a task out of a draft."""
    task = _task(pk)
    drafts.remove_task(task=task)
    messages.success(request, _("“{task}” is taken out of the draft.").format(task=task.title))
    return redirect("program-draft", task.version_id)


def _task(pk: int) -> Task:
    return get_object_or_404(
        Task.objects.select_related("version__program__machine_type").filter(
            version__in=ProgramVersion.objects.drafts()
        ),
        pk=pk,
    )
