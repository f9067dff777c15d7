"""The work step by step: what do I do now, what may it measure, what did I find? For a phone in one hand."""

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.core.number_reader import read_whole
from fleet.web.guards import MemberRequest, needs
from fleet.web.headers import kept_offline
from servicing import workorders
from servicing.job_sheet.build import JobSheet, build_job_sheet
from servicing.models import WorkOrder
from servicing.web.forms.steps import StepsForm
from servicing.web.service_worker import scripts_of
from servicing.web.step_screens import Screen, screens
from servicing.workorders import Entries

State = WorkOrder.State


@kept_offline
@needs("work_orders")
def order_steps(request: MemberRequest, pk: int) -> HttpResponse:
    """Show an order step by step, and keep what is entered at each.

    All steps are on the page, so that a phone that opened it once has them without a line; without JavaScript
    the page is loaded for each step.
    """
    order = _order(pk)
    if order.state == State.PLANNED:
        messages.warning(request, _("{order} is planned; start it first.").format(order=order))
        return redirect(order)
    job = build_job_sheet(order)
    shown = screens(job)
    screen = shown[_number(request, len(shown)) - 1]
    if request.method != "POST":
        return _page(request, order, _form(job), shown, screen)
    form = _form(job, request)
    process, entries, said = _asked(request, order, form, screen)
    form.read()
    try:
        saved = process(order=order, member=request.member, revision=form.made_from, entries=entries())
    except FleetError as error:
        status, known = form.show_refusal(error)
    else:
        _keep_photo(request, screen)
        messages.success(request, said.format(order=saved))
        following = shown[min(screen.number, len(shown) - 1)]
        return redirect(saved if saved.state == State.CLOSED else _address(order, following))
    order = _order(pk)
    again = _form(build_job_sheet(order))
    again.show_again(form, known=known, can_send=order.state == State.STARTED)
    return _page(request, order, again, shown, screen, status=status)


def _asked(request: MemberRequest, order: WorkOrder, form: StepsForm, screen: Screen) -> tuple[Any, Any, str]:
    """Return the process that was asked for, its entries (of a validated form), and what to say after."""
    if "close" in request.POST:
        return workorders.close, lambda: _with_end(order, form), _("{order} is closed.")
    if screen.asks:
        return workorders.record, lambda: _with_line(order, form, screen), _("Saved.")
    return workorders.record, lambda: replace(_with_end(order, form), hours=None), _("Saved.")


def _with_line(order: WorkOrder, form: StepsForm, screen: Screen) -> Entries:
    """What is recorded, but for one line what was entered now."""
    recorded = workorders.stored(order)
    entered, entry = form.entries(), form.entry_of(screen.line)
    lines = [entry if row.line == entry.line else row for row in recorded.lines]
    return replace(recorded, lines=lines, unread=entered.unread, undecided=entered.undecided)


def _with_end(order: WorkOrder, form: StepsForm) -> Entries:
    """What is recorded of the lines, with the parts, minutes and hours entered now."""
    return replace(form.entries(), lines=workorders.stored(order).lines)


def _keep_photo(request: MemberRequest, screen: Screen) -> None:
    """Keep the photo that came with a step; a refused one doesn't undo what was entered beside it."""
    photo = request.FILES.get("photo")
    if photo is None or not screen.asks:
        return
    try:
        workorders.add_photo(line=screen.line, photo=photo, member=request.member)
    except FleetError as error:
        messages.error(request, error.sentence)


def _order(pk: int) -> WorkOrder:
    return get_object_or_404(WorkOrder.objects.with_everything(), pk=pk)


def _number(request: MemberRequest, last: int) -> int:
    return min(read_whole(request.GET.get("step", "")) or 1, last)


def _address(order: WorkOrder, screen: Screen) -> str:
    return f"{reverse('order-steps', args=[order.pk])}?step={screen.number}"


def _form(job: JobSheet, request: MemberRequest | None = None) -> StepsForm:
    data = request.POST if request else None
    return StepsForm(data, sheet=job, tomorrow=job.order.machine.today() + timedelta(days=1), label_suffix="")


def _page(
    request: MemberRequest,
    order: WorkOrder,
    form: StepsForm,
    shown: list[Screen],
    screen: Screen,
    status: int = 200,
) -> HttpResponse:
    rows = {row.line.pk: form.row_of(row.line) for row in form.sheet.lines}
    asking = {each.line.pk: each.number for each in shown if each.asks}
    again = {each.line.pk for each in shown if each.back}
    for row in form.sheet.lines:
        if row.back and row.back.line.pk not in again:  # else the next step leads back by itself
            rows[row.line.pk]["back_step"] = asking[row.back.line.pk]
    photos = {line.pk: line.photos.all() for line in order.lines.prefetch_related("photos")}
    context = {
        "order": order,
        "sheet": form.sheet,
        "form": form,
        # a refused form holds what was typed at its own step only
        "screens": [
            (each, *((rows[each.row.line.pk], photos[each.row.line.pk]) if each.row else (None, ())))
            for each in shown
            if not form.is_bound or each == screen
        ],
        "current": screen,
        "last": len(shown),
        "elsewhere": list(_elsewhere(form, shown, screen)),
        "overview": [(each, each.line.outcome) for each in shown if each.asks],
        "still_open": sum(1 for each in shown if each.asks and not each.line.outcome),
        "can_send": order.state == State.STARTED,
        "stale": status == 409,
        "meter": order.machine.meter_shows,
        "tag_outs": order.machine.tag_outs.open().select_related("placed_by__user"),
        "facts": _facts(request, order, form),
    }
    return render(request, "servicing/steps.html", context, status=status)


def _elsewhere(form: StepsForm, shown: list[Screen], screen: Screen) -> Iterator[tuple[Screen, str, str]]:
    """Yield what was refused at fields of other steps: the step, the field and what is wrong."""
    if not form.is_bound:
        return
    for each in shown:
        if each.asks and each != screen:
            for name, wrong in form.errors.items():
                if name.startswith(f"lines-{each.line.pk}-"):
                    yield each, str(form.fields[name].label), str(wrong[0])


def _facts(request: MemberRequest, order: WorkOrder, form: StepsForm) -> str:
    """Return what the page's scripts need to know, as JSON."""
    return json.dumps(
        {
            "order": order.pk,
            "number": order.number,
            "tag": order.machine.tag,
            "member": request.member.pk,
            "revision": order.revision,
            "state": order.state,
            "whole": not form.is_bound,
            "api": reverse("api-order", args=[order.pk]),
            "page": reverse("order", args=[order.pk]),
            "sign_in": f"{reverse('login')}?next={reverse('order-steps', args=[order.pk])}",
            "worker": reverse("service-worker"),
            "scripts": scripts_of("hourmark/steps.js"),
            "lines": [
                {
                    "line": row.line.pk,
                    "title": row.line.title,
                    "checks": [each.check.pk for each in row.checks],
                    "not_fitted": workorders.why_not_unfitted(row.line),
                }
                for row in form.sheet.lines
            ],
            "labels": form.labels(),
            "judging": form.judging(),
            "rules": workorders.rules(),
            "today": order.machine.today().isoformat(),
        }
    )
