"""Technicians: who can be given work, what an hour costs, who may do licensed work."""

from decimal import Decimal

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.core.errors import FleetError
from fleet.web.forms.fields import PlainDecimalField
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs
from servicing.models import Technician
from servicing.workorders import technicians as process


class TechnicianForm(forms.Form):
    """Rate and licence."""

    hourly_rate = PlainDecimalField(
        label=_("An hour costs"),
        max_digits=10,
        decimal_places=2,
        min_value=0,
        required=False,
        help_text=_("Leave it empty if you don't know it; reports then say that the cost is incomplete."),
    )
    licensed = forms.BooleanField(
        required=False,
        label=_("May do licensed work"),
        help_text=_("Can be given tasks for a licensed shop or dealer."),
    )

    def clean_hourly_rate(self) -> Decimal:
        """What an hour costs; nought where that isn't known."""
        return self.cleaned_data["hourly_rate"] or Decimal(0)


@needs("plan_orders")
def technicians(request: MemberRequest) -> HttpResponse:
    """List who can be given work."""
    listed = Technician.objects.working().select_related("member__user")
    unrated = any(not each.hourly_rate for each in listed)
    return render(request, "servicing/technicians.html", {"technicians": listed, "unrated": unrated})


@needs("plan_orders")
def technician(request: MemberRequest, pk: int) -> HttpResponse:
    """Change one technician's rate and licence."""
    shown = get_object_or_404(Technician.objects.select_related("member__user", "organisation"), pk=pk)
    initial = {"hourly_rate": shown.hourly_rate or None, "licensed": shown.licensed}
    form = TechnicianForm(request.POST or None, initial=initial)
    form.fields["hourly_rate"].widget.attrs["data-unit"] = request.organisation.currency
    if request.method == "POST" and form.is_valid():
        try:
            process.change(technician=shown, member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, gettext("{technician} is changed.").format(technician=shown))
            return redirect("technicians")
    status = 422 if form.errors else 200
    return render(request, "servicing/technician.html", {"form": form, "technician": shown}, status=status)
