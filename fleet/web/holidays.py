"""Holidays of the yards."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.calendar import holidays
from fleet.core.errors import FleetError
from fleet.models import Holiday
from fleet.web.forms.calendar import HolidayForm
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs

PAGE = 20


@needs("manage_fleet")
def listed(request: MemberRequest) -> HttpResponse:
    """List the holidays to come; with ?past=1 those behind, latest first."""
    today, past = request.organisation.today(), request.GET.get("past") == "1"
    days = Holiday.objects.select_related("yard")
    days = days.filter(last_on__lt=today).order_by("-first_on", "-pk") if past else days.from_day(today)
    page = Paginator(days, PAGE).get_page(request.GET.get("page"))
    return render(request, "fleet/holidays.html", {"page": page, "past": past})


@needs("manage_fleet")
def new(request: MemberRequest) -> HttpResponse:
    """Enter a holiday."""
    form = HolidayForm(request.POST if request.method == "POST" else None, member=request.member)
    if request.method == "POST" and form.is_valid():
        try:
            holiday = holidays.add(member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            sentence = _("{holiday} is added. Due days are being worked out again.")
            messages.success(request, sentence.format(holiday=holiday))
            return redirect("holidays")
    return _page(request, form, None)


@needs("manage_fleet")
def edit(request: MemberRequest, pk: int) -> HttpResponse:
    """Change a holiday."""
    holiday = get_object_or_404(Holiday.objects.all(), pk=pk)
    entered = request.POST if request.method == "POST" else None
    form = HolidayForm(entered, member=request.member, holiday=holiday)
    if request.method == "POST" and form.is_valid():
        try:
            holidays.change(holiday=holiday, member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            sentence = _("{holiday} is changed. Due days are being worked out again.")
            messages.success(request, sentence.format(holiday=holiday))
            return redirect("holidays")
    return _page(request, form, holiday)


@require_POST
@needs("manage_fleet")
def remove(request: MemberRequest, pk: int) -> HttpResponse:
    """Remove a holiday."""
    holiday = get_object_or_404(Holiday.objects.all(), pk=pk)
    holidays.remove(holiday=holiday, member=request.member)
    sentence = _("{holiday} is removed. Due days are being worked out again.")
    messages.success(request, sentence.format(holiday=holiday))
    return redirect("holidays")


def _page(request: MemberRequest, form: HolidayForm, holiday: Holiday | None) -> HttpResponse:
    context = {"form": form, "holiday": holiday}
    return render(request, "fleet/holiday.html", context, status=422 if form.errors else 200)
