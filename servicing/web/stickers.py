"""Stickers: what does one print and put on the machines?"""

from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_POST, require_safe

from fleet.core.number_reader import read_whole
from fleet.machines import register
from fleet.models import Machine, Yard
from fleet.web.forms.fields import choice, rows_choice
from fleet.web.forms.house import Form
from fleet.web.guards import MemberRequest, members_only, needs
from fleet.web.pictures import source
from servicing.printing import label_sheets
from servicing.printing import stickers_pdf as paper
from servicing.printing.typst import square, usual_size

ROWS = 100
PAPERS = [("a4", "A4"), ("letter", "Letter")]


class YardForm(Form):
    """Whose stickers: those of a yard, or all."""

    yard: "forms.ModelChoiceField[Yard]" = forms.ModelChoiceField(
        queryset=None, required=False, empty_label=_("Every yard"), label=_("Yard")
    )

    def __init__(self, *args: Any, request: MemberRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows_choice(self, "yard").queryset = Yard.objects.filter(organisation=request.organisation)


class SheetForm(Form):
    """What they are printed on. Sizes too small for the code to be scanned are left out."""

    size = forms.ChoiceField(label=_("Stickers"), initial=paper.USUAL)
    paper = forms.ChoiceField(
        choices=PAPERS, label=_("Paper to cut from"), help_text=_("A label sheet has its own.")
    )
    begin = forms.IntegerField(
        label=_("Begin at label"),
        initial=1,
        min_value=1,
        required=False,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        help_text=_(
            "For a sheet that was begun: its first free label, counted row by row from the top left."
        ),
    )

    def __init__(self, *args: Any, request: MemberRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(gettext("To cut out"), [(name, each.label) for name, each in _cut_outs().items()])]
        for size, word in PAPERS:
            of_paper = [
                (name, f"{word}: {label_sheets.said(each)}")
                for name, each in label_sheets.SHEETS.items()
                if each.paper == size and paper.is_read(each.square)
            ]
            choices.append((gettext("Label sheets, {paper}").format(paper=word), of_paper))
        choice(self, "size").choices = choices
        self.fields["paper"].initial = usual_size(request.organisation.units)

    def clean(self) -> dict[str, Any]:
        """Refuse to begin where the sheet has no label; what is cut out has none to begin at."""
        given = self.cleaned_data
        sheet = label_sheets.SHEETS.get(given.get("size", ""))
        begin = given.get("begin")
        if sheet and begin and begin > sheet.labels:
            said = ngettext(
                "This sheet has {labels} label. Give the number 1.",
                "This sheet has {labels} labels. Give a number from 1 to {labels}.",
                sheet.labels,
            )
            self.add_error("begin", said.format(labels=sheet.labels))
        return given


@require_safe
@members_only
def stickers(request: MemberRequest) -> HttpResponse:
    """Choose what to print: a yard, or single machines; and on what."""
    whose = YardForm(request.GET, request=request)
    yard = whose.cleaned_data.get("yard") if whose.is_valid() else None
    listed = _stickable(request)
    if yard:
        listed = listed.filter(yard=yard)
    page = Paginator(listed, ROWS).get_page(request.GET.get("page"))
    chosen = _chosen(request)
    shown = {machine.pk for machine in page}
    context = {
        "whose": whose,
        "form": _sheet_form(request)
        if request.GET.keys() & SheetForm.base_fields.keys()
        else SheetForm(request=request),
        "page": page,
        "yard": yard,
        "chosen": chosen,
        "elsewhere": _stickable(request).filter(pk__in=chosen - shown) if chosen - shown else (),
        "parts": range(1, -(-page.paginator.count // paper.MOST) + 1),
    }
    return render(request, "servicing/stickers.html", context)


@require_safe
@members_only
def stickers_pdf(request: MemberRequest) -> HttpResponse:
    """Send the sheet: ?machine= (several times) or ?yard=; ?size=, ?paper= and ?begin= as usual without them.

    Of many machines come those of ?part=, the first without it. What is wrong leads back to the page, which
    says so.
    """
    whose, form = YardForm(request.GET, request=request), _sheet_form(request)
    if not (form.is_valid() and whose.is_valid()):
        return redirect(f"{reverse('machine-stickers')}?{request.GET.urlencode()}")
    wanted = _stickable(request)
    if chosen := _chosen(request):
        wanted = wanted.filter(pk__in=chosen)
    elif yard := whose.cleaned_data["yard"]:
        wanted = wanted.filter(yard=yard)
    part = Paginator(wanted, paper.MOST).get_page(request.GET.get("part"))
    if not part.object_list:
        messages.warning(request, gettext("No machine found; choose others."))
        return redirect("machine-stickers")
    answer = HttpResponse(
        _pdf(form.cleaned_data, list(part), part.start_index() - 1), content_type="application/pdf"
    )
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
        "form": SheetForm(request=request),
    }
    return render(request, "servicing/sticker.html", context)


@require_POST
@needs("manage_fleet")
def sticker_renew(request: MemberRequest, pk: int) -> HttpResponse:
    """Give a machine a new code, because its sticker was lost or copied."""
    machine = get_object_or_404(_stickable(request, retired=True), pk=pk)
    register.renew_code(machine=machine, member=request.member)
    said = gettext("{machine} has a new code. Print its sticker and take the old one off.")
    messages.success(request, said.format(machine=machine))
    return redirect("machine-sticker", pk)


def _stickable(request: MemberRequest, *, retired: bool = False) -> QuerySet[Machine]:
    found = Machine.objects.visible_to(request.member).metered()
    if not retired:
        found = found.in_service()
    return found.select_related("type", "yard__organisation").order_by("tag")


def _chosen(request: MemberRequest) -> set[int]:
    """The ids of the machines that the address names; what is none names none."""
    return {pk for asked in request.GET.getlist("machine") if (pk := read_whole(asked)) is not None}


def _sheet_form(request: MemberRequest) -> SheetForm:
    """Return the form of what the address asks for; what it leaves out is as usual."""
    usual = {"size": paper.USUAL, "paper": usual_size(request.organisation.units)}
    return SheetForm(
        {**usual, **{name: str(value) for name, value in request.GET.items() if value}}, request=request
    )


def _cut_outs() -> dict[str, paper.Size]:
    return {name: size for name, size in paper.SIZES.items() if paper.is_read(size.square)}


def _pdf(given: dict[str, Any], machines: list[Machine], before: int) -> bytes:
    """Return the stickers of these machines. before: how many of them stand in the parts before this one."""
    sheet = label_sheets.SHEETS.get(given["size"])
    if sheet is None:
        return paper.cut_outs(machines, size=given["size"], paper=given["paper"], at=timezone.now())
    begin = ((given["begin"] or 1) - 1 + before) % sheet.labels + 1
    return paper.labels(machines, sheet=sheet, begin=begin, at=timezone.now())
