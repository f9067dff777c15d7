"""Several machines are added from one list: pasted or sent, put right on the page, saved whole."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.core.errors import FleetError
from fleet.machine_list import columns, saving
from fleet.machine_list.answers import ADD
from fleet.machine_list.columns import Told
from fleet.machine_list.grid import Grid
from fleet.machine_list.judging import Judged, judge
from fleet.machine_list.known import Known
from fleet.machine_list.listing import HOURS, MOST_ROWS, NAMES, PRICE, Listing
from fleet.machine_list.saving import Added, NotRight
from fleet.models.machine import Category
from fleet.web.forms import machine_list as forms
from fleet.web.forms.files import ACCEPT
from fleet.web.guards import MemberRequest, needs

SAID = 12  # problems that are named above the table
NAMED = 6  # machines that are here already


@needs("manage_fleet")
def listed(request: MemberRequest) -> HttpResponse:
    """Add the machines of a list."""
    if request.method != "POST":
        return _start(request)
    asked = request.POST.get("do", "")
    try:
        if asked == "read":
            grid = forms.sent_grid(request.POST.get("pasted", ""), request.FILES.get("file"))
            told = columns.tell(grid, Known.of(request.organisation))
            if told.open:
                return _columns(request, grid, told)
            return _table(request, forms.settled(grid, told))
        if asked == "columns":
            return _with_columns(request)
    except FleetError as error:
        return _start(request, error)
    table = forms.typed_table(request.POST)
    if table is None:
        return _start(request, FleetError(_("Paste your list, or choose a file."), field="pasted"))
    if asked == "rows":
        table.more()
        return _table(request, table)
    if asked == "save":
        try:
            added = saving.add(table=table, answers=forms.answered(request.POST), member=request.member)
        except NotRight as error:
            return _table(request, table, error.judged, refused=True)
        messages.success(request, _said(added))
        return redirect("machines")
    return _table(request, table, refused=True)


def _start(request: MemberRequest, error: FleetError | None = None) -> HttpResponse:
    said = {error.field or "pasted": error.sentence} if error else {}
    return render(
        request,
        "fleet/machine_list.html",
        {
            "most": MOST_ROWS,
            "accept": ACCEPT,
            "pasted": request.POST.get("pasted", ""),
            "wrong": said if not said or "file" in said else {"pasted": next(iter(said.values()))},
            "refusal": error.sentence if error else "",
        },
        status=422 if error else 200,
    )


def _with_columns(request: MemberRequest) -> HttpResponse:
    """The table by the columns that were chosen, or the same question with what is wrong about it."""
    grid, told = forms.kept_grid(request.POST)
    try:
        return _table(request, forms.settled(grid, told))
    except FleetError as error:
        return _columns(request, grid, told, error)


def _columns(request: MemberRequest, grid: Grid, told: Told, error: FleetError | None = None) -> HttpResponse:
    return render(
        request,
        "fleet/machine_list_columns.html",
        {
            "columns": forms.asked_columns(grid, told),
            "choices": list(NAMES.items()),
            "grid": forms.written(grid),
            "told": told,
            "refusal": error.sentence if error else "",
        },
        status=422 if error else 200,
    )


def _table(
    request: MemberRequest, table: Listing, judged: Judged | None = None, *, refused: bool = False
) -> HttpResponse:
    answers = forms.answered(request.POST)
    known = Known.of(request.organisation)
    if judged is None:
        judged = judge(table, answers, known)
    refused = refused and not judged.ready
    wrong = forms.problems(judged)
    here = [judged.here[number] for number in sorted(judged.here)]
    return render(
        request,
        "fleet/machine_list_table.html",
        {
            "listing": table,
            "rows": forms.table_rows(table, judged),
            "names": [(column, NAMES[column], column in (HOURS, PRICE)) for column in table.columns],
            "judged": judged,
            "asked": judged.questions,
            "answers": answers,
            "yards": known.yards,
            "categories": Category.choices,
            "add": ADD,
            "open": _open(judged),
            "wrong": wrong[:SAID],
            "wrong_more": max(0, len(wrong) - SAID),
            "wrong_count": len(wrong),
            "here": ", ".join(here[:NAMED]),
            "here_count": len(here),
            "here_more": max(0, len(here) - NAMED),
            "count": len(judged.entries),
            "currency": request.organisation.currency,
            "refusal": _("Not saved yet.") if refused else "",
        },
        status=422 if refused else 200,
    )


def _open(judged: Judged) -> list[tuple[str, str]]:
    """The questions that are open, each with its place on the page."""
    named = {
        "models": _("Choose what each new model is"),
        "yards": _("Say which yards are meant"),
        "unnamed": _("Say where the machines without a yard are"),
        "since": _("Say since when the machines are in service"),
        "order": _("Say whether the day or the month comes first"),
        "decimal": _("Say what the decimal mark is"),
        "currency": _("Say which currency the prices are in"),
    }
    asked = [(f"ask-{name}", said) for name, said in named.items() if name in judged.open]
    if judged.here and not judged.left_out:
        asked.insert(0, ("ask-here", _("Say what to do with the machines that are here already")))
    return asked


def _said(added: Added) -> str:
    """What was added, in words."""
    counts: list[tuple[int, Any]] = [
        (
            len(added.machines),
            ngettext("{number} machine is added.", "{number} machines are added.", len(added.machines)),
        ),
        (
            len(added.models),
            ngettext("{number} new model is added.", "{number} new models are added.", len(added.models)),
        ),
        (
            len(added.yards),
            ngettext("{number} yard is added.", "{number} yards are added.", len(added.yards)),
        ),
    ]
    return " ".join(said.format(number=count) for count, said in counts if count)
