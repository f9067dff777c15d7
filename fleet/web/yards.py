"""Yards, and the settings of the organisation."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from fleet.accounts import yards
from fleet.core.errors import FleetError
from fleet.models import Yard
from fleet.web.forms.refusals import show
from fleet.web.forms.yards import SettingsForm, YardForm
from fleet.web.guards import MemberRequest, needs

PAGE = 20


@needs("manage_fleet")
def listed(request: MemberRequest) -> HttpResponse:
    """List the yards with their zones."""
    counted = Yard.objects.select_related("organisation").annotate(
        standing=Count("machines", filter=Q(machines__retired_on=None))
    )
    page = Paginator(counted.order_by("name"), PAGE).get_page(request.GET.get("page"))
    return render(request, "fleet/yards.html", {"page": page})


@needs("manage_fleet")
def new(request: MemberRequest) -> HttpResponse:
    """Enter a yard."""
    form = YardForm(request.POST if request.method == "POST" else None, organisation=request.organisation)
    if request.method == "POST" and form.is_valid():
        try:
            yard = yards.add(member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, _("{what} is added.").format(what=yard))
            return redirect("yards")
    return _page(request, form, None)


@needs("manage_fleet")
def edit(request: MemberRequest, pk: int) -> HttpResponse:
    """Rename a yard or choose its time zone."""
    yard = get_object_or_404(Yard.objects.all(), pk=pk)
    name = yard.name
    form = YardForm(
        request.POST if request.method == "POST" else None, organisation=request.organisation, yard=yard
    )
    if request.method == "POST" and form.is_valid():
        try:
            yards.change(yard=yard, member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, _("{what} is changed.").format(what=yard))
            return redirect("yards")
    return _page(request, form, name)


@needs("manage_people")
def settings(request: MemberRequest) -> HttpResponse:
    """Change what holds for the whole organisation."""
    form = SettingsForm(request.POST if request.method == "POST" else None, organisation=request.organisation)
    if request.method == "POST" and form.is_valid():
        try:
            yards.save_settings(settings=form.settings(), member=request.member)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, _("The settings are saved."))
            return redirect("organisation-settings")
    return render(request, "fleet/settings.html", {"form": form}, status=422 if form.errors else 200)


def _page(request: MemberRequest, form: YardForm, name: str | None) -> HttpResponse:
    return render(
        request, "fleet/yard.html", {"form": form, "name": name}, status=422 if form.errors else 200
    )
