"""Stickers: what does one print and put on the machines?"""

from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.core.number_reader import read_whole
from fleet.machines import register
from fleet.models import Machine, Yard
from fleet.web.forms.fields import rows_choice
from fleet.web.guards import MemberRequest, members_only, needs
from fleet.web.pictures import source
from servicing.printing import stickers_pdf as paper
from servicing.printing.typst import square, usual_size

ROWS = 100


class SheetForm(forms.Form):
    """Which stickers, and how large. Without chosen machines: those of the yard, or all."""

    yard: "forms.ModelChoiceField[Yard]" = forms.ModelChoiceField(
        queryset=None, required=False, empty_label="Every yard", label="Yard"
    )
    size = forms.ChoiceField(
        choices=[(name, size.label) for name, size in paper.SIZES.items()], initial=paper.USUAL, label="Size"
    )
    paper = forms.ChoiceField(choices=[("a4", "A4"), ("letter", "Letter")], label="Paper")

    def __init__(self, *args: Any, request: MemberRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows_choice(self, "yard").queryset = Yard.objects.filter(organisation=request.organisation)
        self.fields["paper"].initial = usual_size(request.organisation.units)


@require_safe
@members_only
def stickers(request: MemberRequest) -> HttpResponse:
    """Choose what to print: a yard, or single machines."""
    form = SheetForm(_with_usual(request), request=request)
    yard = form.cleaned_data.get("yard") if form.is_valid() else None
    listed = _stickable(request)
    if yard:
        listed = listed.filter(yard=yard)
    page = Paginator(listed, ROWS).get_page(request.GET.get("page"))
    context = {
        "form": form,
        "page": page,
        "yard": yard,
        "chosen": _chosen(request),
        "parts": range(1, -(-page.paginator.count // paper.MOST) + 1),
    }
    return render(request, "servicing/stickers.html", context)


@require_safe
@members_only
def stickers_pdf(request: MemberRequest) -> HttpResponse:
    """Send the sheet: ?machine= (several times) or ?yard=; ?size= and ?paper= by habit without them.

    Of many machines come those of ?part=, the first without it.
    """
    form = SheetForm(_with_usual(request), request=request)
    form.is_valid()
    given = form.cleaned_data
    wanted = _stickable(request)
    if chosen := _chosen(request):
        wanted = wanted.filter(pk__in=chosen)
    elif "yard" in form.errors:
        wanted = wanted.none()
    elif given.get("yard"):
        wanted = wanted.filter(yard=given["yard"])
    found = list(Paginator(wanted, paper.MOST).get_page(request.GET.get("part")).object_list)
    if not found:
        messages.warning(request, "No machine found; choose others.")
        return redirect("machine-stickers")
    made = paper.sticker_sheet(
        found,
        size=given.get("size") or paper.USUAL,
        paper=given.get("paper") or usual_size(request.organisation.units),
        at=timezone.now(),
    )
    answer = HttpResponse(made, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="stickers.pdf"'
    return answer


@require_safe
@members_only
def sticker(request: MemberRequest, pk: int) -> HttpResponse:
    """Show a machine's sticker, to be scanned here or printed."""
    machine = get_object_or_404(_stickable(request, retired=True), pk=pk)
    context = {
        "machine": machine,
        "square": source(square(paper.address(machine), error="q")),
        "typed": paper.short_address(machine),
        "sizes": paper.SIZES,
        "usual": paper.USUAL,
        "paper": usual_size(request.organisation.units),
    }
    return render(request, "servicing/sticker.html", context)


@require_POST
@needs("manage_fleet")
def sticker_renew(request: MemberRequest, pk: int) -> HttpResponse:
    """Give a machine a new code, because its sticker was lost or copied."""
    machine = get_object_or_404(_stickable(request, retired=True), pk=pk)
    register.renew_code(machine=machine, member=request.member)
    messages.success(request, f"{machine} has a new code. Print its sticker and take the old one off.")
    return redirect("machine-sticker", pk)


def _stickable(request: MemberRequest, *, retired: bool = False) -> QuerySet[Machine]:
    found = Machine.objects.visible_to(request.member).metered()
    if not retired:
        found = found.in_service()
    return found.select_related("type", "yard__organisation").order_by("tag")


def _chosen(request: MemberRequest) -> set[int]:
    """The ids of the machines that the address names; what is none names none."""
    return {pk for asked in request.GET.getlist("machine") if (pk := read_whole(asked)) is not None}


def _with_usual(request: MemberRequest) -> dict[str, str]:
    usual = {"size": paper.USUAL, "paper": usual_size(request.organisation.units)}
    return {**usual, **{name: str(value) for name, value in request.GET.items() if value}}
