"""Correcting a closed order: what did it say wrong, and why?"""

from datetime import timedelta

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.web.guards import MemberRequest, needs
from servicing import workorders
from servicing.job_sheet.build import build_job_sheet
from servicing.models import WorkOrder
from servicing.web import within_sentences
from servicing.web.forms.amending import AmendForm


@needs("work_orders")
def order_amend(request: MemberRequest, pk: int) -> HttpResponse:
    """Ask what is wrong on a closed order and why, and keep the correction beside what it said.

    Whatever is refused, the page comes back with everything that was typed.
    """
    order = _order(pk)
    if request.method != "POST":
        if not workorders.may_amend(order, request.member):
            return _turned_away(request, order)
        return _page(request, order, _form(order))
    form = _form(order, request)
    form.read()
    try:
        saved = workorders.amend(
            order=order,
            member=request.member,
            revision=form.made_from,
            entries=form.entries(),
            reason=form.cleaned_data.get("reason", ""),
        )
    except FleetError as error:
        status, known = form.show_refusal(error)
    else:
        messages.success(
            request, _("{order} was corrected; what it said before is below.").format(order=saved)
        )
        return redirect(saved)
    order = _order(pk)
    again = _form(order)
    again.show_again(form, known=known, can_send=workorders.may_amend(order, request.member))
    return _page(request, order, again, status=status)


def _order(pk: int) -> WorkOrder:
    return get_object_or_404(WorkOrder.objects.with_everything(), pk=pk)


def _turned_away(request: MemberRequest, order: WorkOrder) -> HttpResponse:
    if order.state == WorkOrder.State.CLOSED:
        raise PermissionDenied(_("Only a manager can correct it now: whoever closed it had 48 hours."))
    said = _("{order} is {state}; only a closed order can be corrected.")
    messages.warning(request, said.format(order=order, state=within_sentences.state(order)))
    return redirect(order)


def _form(order: WorkOrder, request: MemberRequest | None = None) -> AmendForm:
    reading = workorders.reading_of(order)
    return AmendForm(
        request.POST if request else None,
        sheet=build_job_sheet(order),
        tomorrow=order.machine.today(order.closed_at) + timedelta(days=1),
        showed=reading.shows if reading else None,
        label_suffix="",
    )


def _page(request: MemberRequest, order: WorkOrder, form: AmendForm, status: int = 200) -> HttpResponse:
    context = {
        "order": order,
        "form": form,
        "sheet": form.sheet,
        "can_send": workorders.may_amend(order, request.member),
        "stale": status == 409,
        "tag_outs": order.machine.tag_outs.open().select_related("placed_by__user"),
    }
    return render(request, "servicing/order_amend.html", context, status=status)
