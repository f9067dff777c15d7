"""One ask: what is wanted of which machine, what stands in the way, and what came of it."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from fleet.calendar import asks
from fleet.core.errors import FleetError
from fleet.models import Ask
from fleet.web.forms.despite import AnswerForm
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, members_only


@members_only
def ask(request: MemberRequest, pk: int) -> HttpResponse:
    """Show an ask to anybody; let those who may deal with it."""
    if request.method == "POST" and not asks.deals_with_any(request.member):
        raise PermissionDenied(_("Your role can't answer requests."))
    people = ("machine__type", "machine__yard", "asked_by__user", "dealt_by__user")
    shown = get_object_or_404(Ask.objects.select_related(*people), pk=pk)
    may_deal = asks.may_deal_with(request.member, shown.matter)
    form = AnswerForm(request.POST if request.method == "POST" else None)
    status = 200
    if request.method == "POST":
        if not may_deal:
            raise PermissionDenied(_("Your role can't answer this."))
        status = 422
        if form.is_valid():
            try:
                asks.deal_with(ask=shown, member=request.member, **form.cleaned_data)
            except FleetError as error:
                show(error, form)
                status = 409 if shown.dealt_at else 422
            else:
                messages.success(
                    request, _("The request for {machine} is answered.").format(machine=shown.machine)
                )
                return redirect("today")
    context = {
        "ask": shown,
        "form": form,
        "may_deal": may_deal and not shown.dealt_at,
        "tag_outs": shown.machine.tag_outs.open() if shown.matter == asks.Matter.CLEAR else [],
    }
    return render(request, "fleet/ask.html", context, status=status)
