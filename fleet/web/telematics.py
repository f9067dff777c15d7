"""Telematics: which sources there are, how each is doing, and units that wait to be tied to a machine."""

from contextlib import suppress
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, TypedDict, cast

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from fleet.core.errors import FleetError
from fleet.models import Machine, TelematicsSource, TelematicsUnit
from fleet.readings.submission import Unreadable
from fleet.telematics import linking, questions, sources
from fleet.telematics.values import hours_of, read_told
from fleet.web.confirm import confirmed
from fleet.web.forms.refusals import show
from fleet.web.forms.telematics import SourceForm, UnitForm
from fleet.web.guards import MemberRequest, needs

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class Told(TypedDict):
        """What the page of a unit writes of it."""

        told_hours: Decimal | None
        told_at: datetime | None


PAGE = 20
SHOWN = ("waiting", "tied", "silent", "ignored")


@needs("manage_fleet")
def listed(request: MemberRequest) -> HttpResponse:
    """List the sources, each with how it is doing."""
    page = Paginator(TelematicsSource.objects.with_counts().order_by("name"), PAGE).get_page(
        request.GET.get("page")
    )
    return render(request, "fleet/telematics.html", {"page": page})


@needs("manage_fleet")
@confirmed
def new(request: MemberRequest) -> HttpResponse:
    """Enter a source."""
    form = SourceForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            source = sources.add(facts=form.facts(), member=request.member)
        except FleetError as error:
            show(error, form)
        else:
            sentence = _("{what} is added; it is being read.") if source.active else _("{what} is added.")
            messages.success(request, sentence.format(what=source))
            return redirect("telematics-source", source.pk)
    return _form_page(request, form, None)


@needs("manage_fleet")
@confirmed
def edit(request: MemberRequest, pk: int) -> HttpResponse:
    """Change a source."""
    source = get_object_or_404(TelematicsSource.objects.all(), pk=pk)
    form = SourceForm(request.POST if request.method == "POST" else None, source=source)
    if request.method == "POST" and form.is_valid():
        try:
            sources.change(source=source, facts=form.facts(), member=request.member)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, _("The changes are saved."))
            return redirect("telematics-source", pk)
    return _form_page(request, form, source)


@require_safe
@needs("manage_fleet")
def source(request: MemberRequest, pk: int) -> HttpResponse:
    """Show one source: how it is doing, and its units, those that wait first."""
    shown = get_object_or_404(TelematicsSource.objects.with_counts(), pk=pk)
    silent = shown.units.all().silent(timezone.now())
    counts = {"silent": silent.count()} | {
        name: getattr(shown, f"{name}_count") for name in SHOWN if name != "silent"
    }
    chosen = request.GET.get("show")
    if chosen not in SHOWN:
        chosen = "waiting" if counts["waiting"] or not counts["tied"] else "tied"
    units = silent if chosen == "silent" else getattr(shown.units.all(), chosen)()
    if chosen == "waiting":
        units = units.with_questions_first()
    elif chosen != "silent":
        units = units.order_by("maker", "model", "equipment_id", "pk")
    units = units.select_related("machine", "source", "decided_by__user")
    page = Paginator(units, PAGE).get_page(request.GET.get("page"))
    for each in page:
        _readable(each)
    tabs = [(name, counts[name]) for name in SHOWN]
    return render(
        request,
        "fleet/telematics_source.html",
        {"source": shown, "page": page, "chosen": chosen, "tabs": tabs},
    )


@require_POST
@needs("manage_fleet")
def read(request: MemberRequest, pk: int) -> HttpResponse:
    """Have a source read now."""
    asked = get_object_or_404(TelematicsSource.objects.all(), pk=pk)
    try:
        sources.ask(source=asked, member=request.member)
    except FleetError as error:
        messages.error(request, error.sentence)
    else:
        messages.success(request, _("It is being read. Look again in a moment."))
    return redirect("telematics-source", pk)


@needs("manage_fleet")
def unit(request: MemberRequest, pk: int) -> HttpResponse:
    """Tie a unit to a machine, set it aside, or let it wait again."""
    shown = get_object_or_404(
        TelematicsUnit.objects.select_related("source", "machine", "proposed__type", "decided_by__user"),
        pk=pk,
    )
    _readable(shown)
    sides = questions.sides(shown)
    form = UnitForm(request.POST if request.method == "POST" else None, unit=shown, member=request.member)
    if request.method == "POST" and form.is_valid():
        try:
            said = _carry_out(request, shown, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, said)
            return redirect("telematics-source", shown.source_id)
    return render(
        request,
        "fleet/telematics_unit.html",
        {
            "unit": shown,
            "form": form,
            "sides": sides,
            "changed": any(side.before for side in sides),
            "question": bool(shown.hint) and shown.machine_id is None and not shown.ignored,
        },
        status=422 if form.errors else 200,
    )


def _readable(unit: TelematicsUnit) -> None:
    """Add the hours it sent and their time as a page writes them, None where they can't be read."""
    told = cast("WithAnnotations[TelematicsUnit, Told]", unit)
    told.told_hours = told.told_at = None
    with suppress(Unreadable):
        told.told_hours = hours_of(unit.hours)
    with suppress(Unreadable):
        told.told_at = read_told(unit.hours_at)


def _carry_out(
    request: MemberRequest, unit: TelematicsUnit, *, decision: str, machine: Machine | None
) -> str:
    """Call the process that was chosen; return what to tell."""
    if decision == "ignore":
        linking.ignore(unit=unit, member=request.member)
        return _("{unit} is ignored from now on.").format(unit=unit)
    if decision == "loosen":
        linking.loosen(unit=unit, member=request.member)
        return _("{unit} is unlinked.").format(unit=unit)
    assert machine is not None  # the form asks for it
    linking.tie(unit=unit, machine=machine, member=request.member)
    return _("{unit} is linked to {machine}.").format(unit=unit, machine=machine)


def _form_page(request: MemberRequest, form: SourceForm, source: TelematicsSource | None) -> HttpResponse:
    return render(
        request,
        "fleet/telematics_edit.html",
        {"form": form, "source": source},
        status=422 if form.errors else 200,
    )
