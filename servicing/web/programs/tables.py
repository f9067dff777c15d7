"""A program's table is typed, pasted or loaded, looked at, and kept as a draft."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.models.machine import WorkingCondition
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs
from servicing.models import ProgramVersion
from servicing.planning.maker_table import Choice, Grid, Question
from servicing.planning.table_grid import YES
from servicing.planning.table_marks import meaning
from servicing.programs import drafts
from servicing.programs.wording import limit, reading
from servicing.web.forms.program_table import FRESH, MORE_ROWS, AboutForm, AnchorForm, Table, table_from


@needs("manage_fleet")
def program_new(request: MemberRequest) -> HttpResponse:
    """Enter a maker's table as the draft of a program."""
    table = table_from(request, fresh=Table([list(row) for row in FRESH]))
    form = AboutForm(
        request.POST if request.method == "POST" else None,
        initial={"machine_type": request.GET.get("machine_type", "")},
    )
    saved = _saved(request, table, form, _begin)
    if isinstance(saved, ProgramVersion):
        messages.success(request, _("Saved as a draft. Preview the changes before you apply it."))
        return redirect("program-draft", saved.pk)
    return _page(request, "servicing/program_new.html", table, form, saved)


@needs("manage_fleet")
def program_table(request: MemberRequest, pk: int) -> HttpResponse:
    """Change a draft's table: tasks, marks, pages and notes."""
    version = get_object_or_404(
        ProgramVersion.objects.drafts().select_related("program__machine_type"), pk=pk
    )
    cells, codes = drafts.table_of(version)
    table = table_from(request, fresh=Table(cells, codes))
    form = AnchorForm(request.POST if request.method == "POST" else None)

    def keep(request: MemberRequest, form: forms.Form, read: Grid) -> ProgramVersion:
        named = table.codes or _by_title(version, read)
        return drafts.retable(
            version=version, tasks=read.tasks, codes=named, anchor=form.cleaned_data["anchor"]
        )

    saved = _saved(request, table, form, keep)
    if isinstance(saved, ProgramVersion):
        messages.success(request, _("The table is saved."))
        return redirect("program-draft", version.pk)
    return _page(request, "servicing/program_table.html", table, form, saved, version=version)


def _begin(request: MemberRequest, form: forms.Form, read: Grid) -> ProgramVersion:
    return drafts.begin(
        organisation=request.organisation, tasks=read.tasks, member=request.member, **form.cleaned_data
    )


def _saved(request: MemberRequest, table: Table, form: forms.Form, keep: Any) -> ProgramVersion | Grid | None:
    """Do what was asked: keep the table, or say what it means; None: only show it."""
    if request.method != "POST" or table.refusal:
        return None
    asked = request.POST.get("do")
    if asked in ("rows", "columns"):
        table.more(rows=MORE_ROWS * (asked == "rows"), columns=int(asked == "columns"))
        return None
    if asked and asked.startswith("same:"):
        table.answer_all(asked.removeprefix("same:"))
    read = table.read()
    ready = not table.pasted and not read.faults and not read.open
    if asked == "save" and form.is_valid() and ready:
        try:
            return keep(request, form, read)
        except FleetError as error:
            show(error, form)
    return read


def _page(
    request: MemberRequest,
    template: str,
    table: Table,
    form: forms.Form,
    read: ProgramVersion | Grid | None,
    **more: Any,
) -> HttpResponse:
    asked = request.POST.get("do")
    faults = read.faults if isinstance(read, Grid) else []
    questions = read.questions if isinstance(read, Grid) else []
    unanswered = len(read.open) if isinstance(read, Grid) else 0
    wrong = bool(faults or table.refusal or (asked == "save" and (form.errors or unanswered)))
    return render(
        request,
        template,
        {
            "form": form,
            "show_errors": asked == "save" and not table.pasted,
            "table": table,
            "rows": table.rows(faults),
            "width": len(table.cells[0]),
            "height": len(table.cells),
            "faults": faults,
            "groups": _groups(questions),
            "unanswered": unanswered,
            "offers": [
                {"offer": offer, "value": f"{offer.digest}-{YES}", "limits": [*map(limit, offer.limits)]}
                for offer in (read.offers if isinstance(read, Grid) else [])
            ],
            "refused_open": asked == "save" and unanswered and not table.pasted,
            "read": _meaning(read, request.POST.get("anchor", "marks")) if isinstance(read, Grid) else None,
            "pasted": request.POST.get("pasted", "") if table.refusal else "",
            **more,
        },
        status=422 if wrong else 200,
    )


def _groups(questions: Sequence[Question]) -> list[dict[str, Any]]:
    """The questions, those that read the same together; open ones first."""
    alike: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for question in questions:
        choices = [
            {
                "value": f"{question.digest}-{choice.code}",
                "said": _choice(choice),
                "chosen": choice.code == question.answer,
                "impossible": bool(choice.faults),
            }
            for choice in question.choices
        ]
        typed = [cell for cell in question.typed if cell]
        entry = {"question": question, "choices": choices, "typed": typed}
        alike.setdefault((question.signature, question.sentence), []).append(entry)
    groups = [
        {"entries": entries, "open": sum(not entry["question"].answer for entry in entries)}
        for entries in alike.values()
    ]
    return sorted(groups, key=lambda group: not group["open"])


def _choice(choice: Choice) -> str:
    if choice.said:
        return choice.said
    if choice.faults:
        return "; ".join(fault.sentence for fault in choice.faults)
    return "; ".join(map(reading, choice.tasks)) or _("Leave out this row")


def _meaning(read: Grid, anchor: str) -> dict[str, Any]:
    """What the table says, in words for a person to check."""
    asked = {question.row for question in read.open}
    tasks = []
    for task in read.tasks:
        meant = meaning(task.marks, anchor=anchor if anchor in ("marks", "done") else "marks")
        rules = [
            {
                **asdict(rule),
                "condition": condition,
                "get_condition_display": WorkingCondition(condition).label,
            }
            for condition, rule in meant.rules.items()
        ]
        remarks = (*task.remarks, *meant.remarks)
        tasks.append({"task": task, "rules": rules, "remarks": remarks, "is_asked": task.row in asked})
    return {"tasks": tasks, "headings": read.headings, "words": read.words}


def _by_title(version: ProgramVersion, read: Grid) -> dict[int, str]:
    """After a paste the rows stand for the tasks of the same title."""
    codes = {title.casefold(): code for code, title in version.tasks.values_list("code", "title")}
    return {task.row: codes[task.title.casefold()] for task in read.tasks if task.title.casefold() in codes}
