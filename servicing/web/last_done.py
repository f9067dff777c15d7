"""When work was last done on machines that ran before: a grid, filled by hand or from a list."""

import re
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.core.errors import FleetError
from fleet.imports.small_file import MOST_BYTES
from fleet.models import Machine
from fleet.web.guards import MemberRequest, needs
from servicing.last_done import say
from servicing.last_done.asked import Sheet, sheets
from servicing.last_done.listed import Listed, read_list, rows_of, rows_sent
from servicing.web.forms.last_done import Grid

PAGE = 16  # machines: with their tasks fewer fields than a request may have
MOST_IDS = 1000
ID = re.compile(r"[0-9]{1,18}")


@needs("manage_fleet")
def last_done(request: MemberRequest) -> HttpResponse:
    """Show what is asked and what was said; keep what is typed, all of it or nothing."""
    asked = [] if request.method == "POST" else _asked(request)
    page = Paginator(asked, PAGE).get_page(request.GET.get("page"))
    order = request.organisation.date_order
    if request.method != "POST":
        return _page(request, page, Grid(sheets(list(page)), order))
    grid = Grid.sent(sheets(_sent(request)), request.POST, order)
    if request.POST.get("do") == "list":
        return _listed(request, page, grid)
    if request.POST.get("do") == "rest":
        grid.rest_unknown()
    said = grid.read()
    grid.mark_wrong(said, say.judge(said, now=timezone.now()))
    if grid.wrong:
        return _page(request, page, grid, status=422)
    try:
        kept = say.say(statements=said, member=request.member)
    except FleetError as error:
        return _page(request, page, grid, status=422, refused=error.sentence)
    if kept:
        done = ngettext("Saved for {number} task.", "Saved for {number} tasks.", kept)
        messages.success(request, f"{done.format(number=kept)} {_('We are working out what is due.')}")
    else:
        messages.info(request, _("Nothing was changed."))
    return redirect(_address(request))


def _machines(request: MemberRequest) -> list[int]:
    """Machines in service that follow a program, the one asked for alone where one is."""
    found = Machine.objects.in_service().exclude(type__program=None).order_by("type__program", "tag")
    one = _ids(request.GET.get("machine", ""))
    return list((found.filter(pk__in=one) if one else found).values_list("pk", flat=True))


def _asked(request: MemberRequest) -> list[int]:
    """Those of them on which something is asked, or was said."""
    known = [cell for sheet in sheets(_machines(request)) for cell in sheet.cells.values()]
    return list(dict.fromkeys(cell.machine.pk for cell in known if cell.is_worth_showing))


def _sent(request: MemberRequest) -> list[int]:
    """The machines whose cells a page sent."""
    return _ids(request.POST.get("machines", ""))


def _ids(text: str) -> list[int]:
    return [int(each) for each in text.split(",")[:MOST_IDS] if ID.fullmatch(each)]


def _listed(request: MemberRequest, page: Any, sent: Grid) -> HttpResponse:
    """Fill the grid of the machines that a list names, whichever page they are on; nothing is kept yet."""
    try:
        listed = _read(request, sheets(_machines(request)))
    except FleetError as error:
        return _page(request, page, sent, status=422, list_wrong=error.sentence)
    shown = sheets(_named(listed, sent))
    grid = Grid.sent(shown, request.POST, sent.order)
    grid.fill(listed.cells)
    said = grid.read()
    grid.mark_wrong(said, say.judge(said, now=timezone.now()))
    wrong = bool(grid.wrong or listed.unplaced)
    return _page(request, page, grid, status=422 if wrong else 200, listed=listed)


def _named(listed: Listed, sent: Grid) -> list[int]:
    """The machines of the page, where that has any that the list names; else those that it names."""
    on_page = {machine.pk for sheet in sent.sheets for machine in sheet.machines}
    named = {machine for machine, _task in listed.cells}
    return sorted(on_page | named) if len(on_page | named) <= PAGE else sorted(named)[:PAGE]


def _read(request: MemberRequest, shown: list[Sheet]) -> Listed:
    upload = request.FILES.get("file")
    if upload is None:
        rows = rows_of(request.POST.get("list", ""))
    else:
        rows = rows_sent(upload.read(MOST_BYTES + 1), upload.name or "")
    if not any(any(row) for row in rows):
        raise FleetError(_("Paste a list or choose a file."))
    listed = read_list(rows, shown)
    left = sorted({machine for machine, _task in listed.cells})[PAGE:]
    if left:
        listed.cells = {place: text for place, text in listed.cells.items() if place[0] not in left}
        most = _("A list is taken for {most} machines at a time. Send the rest in a second one.")
        listed.unplaced.append(most.format(most=PAGE))
    return listed


def _page(request: MemberRequest, page: Any, grid: Grid, *, status: int = 200, **more: Any) -> HttpResponse:
    context = {
        "page": page,
        "machines": ",".join(str(machine.pk) for sheet in grid.sheets for machine in sheet.machines),
        "grid": grid,
        "tables": grid.tables,
        "open": sum(len(sheet.open) for sheet in grid.sheets),
        "pasted": request.POST.get("list", "") if status != 200 else "",
        "address": _address(request),
        **more,
    }
    return render(request, "servicing/last_done.html", context, status=status)


def _address(request: MemberRequest) -> str:
    asked = request.GET.urlencode()
    return f"{reverse('last-done')}?{asked}" if asked else reverse("last-done")
