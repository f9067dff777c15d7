"""Closing an order: what came of each line, what was found and left, what was used."""

from datetime import timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.web.guards import MemberRequest, needs
from servicing import workorders
from servicing.job_sheet.build import build_job_sheet
from servicing.models import WorkOrder
from servicing.web import within_sentences
from servicing.web.forms.closing import ClosingForm


@needs("work_orders")
def order_close(request: MemberRequest, pk: int) -> HttpResponse:
    """Ask for what was done; keep it for later, or close the order with it.

    Whatever is refused, the page comes back with everything that was typed.
    """
    order = _order(pk)
    if request.method != "POST":
        if order.state != WorkOrder.State.STARTED:
            said = _("{order} is {state}; only a started order can be closed.")
            messages.warning(request, said.format(order=order, state=within_sentences.state(order)))
            return redirect(order)
        return _page(request, order, _form(order))
    form = _form(order, request)
    finished = "save" not in request.POST
    process = workorders.close if finished else workorders.record
    form.read()
    try:
        saved = process(order=order, member=request.member, revision=form.made_from, entries=form.entries())
    except FleetError as error:
        status, known = form.show_refusal(error)
    else:
        said = _("{order} is closed.") if finished else _("{order} is saved. It is not closed yet.")
        messages.success(request, said.format(order=saved))
        return redirect(saved)
    return _page(request, *_again(pk, form, known), status=status)


def _order(pk: int) -> WorkOrder:
    return get_object_or_404(WorkOrder.objects.with_everything(), pk=pk)


def _form(order: WorkOrder, request: MemberRequest | None = None) -> ClosingForm:
    data = request.POST if request else None
    return ClosingForm(
        data,
        sheet=build_job_sheet(order),
        tomorrow=order.machine.today() + timedelta(days=1),
        label_suffix="",
    )


def _again(pk: int, came: ClosingForm, known: int) -> tuple[WorkOrder, ClosingForm]:
    """Return the order as it is now, and the refused form on top of it."""
    order = _order(pk)
    form = _form(order)
    form.show_again(came, known=known, can_send=order.state == WorkOrder.State.STARTED)
    return order, form


def _page(request: MemberRequest, order: WorkOrder, form: ClosingForm, status: int = 200) -> HttpResponse:
    context = {
        "order": order,
        "form": form,
        "sheet": form.sheet,
        "can_send": order.state == WorkOrder.State.STARTED,
        "meter": order.machine.meter_shows,
        "stale": status == 409,
        "tag_outs": order.machine.tag_outs.open().select_related("placed_by__user"),
    }
    return render(request, "servicing/order_close.html", context, status=status)
