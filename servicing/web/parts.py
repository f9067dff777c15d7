"""Parts: what lies where, what is short, and what to buy for the coming days?"""

from collections.abc import Iterator
from decimal import Decimal

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_POST

from fleet.core.errors import FleetError
from fleet.usage.figures import marked
from fleet.web.csv_file import csv_file
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs
from servicing.models import Line, Part, Task
from servicing.stock import parts as process
from servicing.stock import purchasing
from servicing.stock.purchasing import PurchaseLine
from servicing.stock.stock_cover import DAYS, stock_courses
from servicing.web.charts.stock_chart import cover, in_words, stock_chart
from servicing.web.forms.parts import CountForm, PartForm

ROWS = 20
SPANS = (30, 60, 90)
USES = 10
SERVICE_LEVEL = "90 %"
COLUMNS = (
    _("number"),
    _("name"),
    _("grade"),
    _("unit"),
    _("average use"),
    _("use, {level} service level"),
    _("in stock"),
    _("reserved"),
    _("substitutes"),
    _("average shortage"),
    _("order quantity, {level} service level"),
)


@needs("work_orders")
def part_list(request: MemberRequest) -> HttpResponse:
    """List the parts with what lies in each yard; first what is short."""
    every = process.stocktaking(Part.objects.all())
    covered = process.covered(every)
    known = {row.part.pk: row.part for row in every}
    word = request.GET.get("q", "").strip()
    wanted = (
        set(
            Part.objects.filter(
                Q(number__icontains=word) | Q(name__icontains=word) | Q(grade__icontains=word)
            ).values_list("pk", flat=True)
        )
        if word
        else set(known)
    )
    short = [
        (row, [(known[pk], quantity) for pk, quantity in shortage.stand_ins.items()] if shortage else [])
        for row in every
        if row.to_reorder
        for shortage in [covered.get(row.part.pk)]
    ]
    page = Paginator([row for row in every if row.part.pk in wanted], ROWS).get_page(request.GET.get("page"))
    courses, day = stock_courses(page.object_list), request.organisation.today()
    rows = [(row, cover(courses[row.part.pk], unit=row.part.unit, today=day)) for row in page.object_list]
    return render(
        request,
        "servicing/parts.html",
        {
            "page": page,
            "rows": rows,
            "short": [] if word else short,
            "word": word,
            "number": len(every),
            "unpriced": any(not row.part.unit_cost for row in every),
        },
    )


@needs("plan_orders")
def part_new(request: MemberRequest) -> HttpResponse:
    """Add a part."""
    form = PartForm(request.POST or None, organisation=request.organisation)
    if request.method == "POST" and form.is_valid():
        try:
            added = process.add(member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(
                request, gettext("{part} is added. Now count it in each yard.").format(part=added)
            )
            return redirect("part", pk=added.pk)
    return render(request, "servicing/part_new.html", {"form": form}, status=422 if form.is_bound else 200)


@needs("work_orders")
def part(request: MemberRequest, pk: int) -> HttpResponse:
    """Show one part, with its stock in every yard; planners change it here."""
    if request.method == "POST" and not request.may.plan_orders:
        raise PermissionDenied(gettext("Your role can't change parts."))
    shown = get_object_or_404(Part.objects.all(), pk=pk)
    if request.method != "POST":
        return _page(request, shown, PartForm(organisation=request.organisation, part=shown))
    form = PartForm(request.POST, organisation=request.organisation, part=shown)
    if form.is_valid():
        try:
            changed = process.change(part=shown, member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, gettext("{part} is changed.").format(part=changed))
            return redirect("part", pk=pk)
    return _page(request, get_object_or_404(Part.objects.all(), pk=pk), form, changing=True, status=422)


@require_POST
@needs("plan_orders")
def part_count(request: MemberRequest, pk: int) -> HttpResponse:
    """Take in what was counted in one yard."""
    counted = get_object_or_404(Part.objects.all(), pk=pk)
    form = CountForm(request.POST, part=counted)
    if form.is_valid():
        given = form.cleaned_data
        try:
            stock = process.count(
                part=counted,
                yard=given["yard"],
                member=request.member,
                quantity=given["quantity"],
                reorder_point=given["reorder_point"] or Decimal(0),
            )
        except FleetError as error:
            show(error, form)
        else:
            amount = f"{marked(str(stock.quantity))} {counted.unit}"
            messages.success(
                request, gettext("{yard}: {amount} counted.").format(yard=stock.yard, amount=amount)
            )
            return redirect("part", pk=pk)
    return _page(
        request,
        counted,
        PartForm(organisation=request.organisation, part=counted),
        tried=form,
        status=422,
    )


@needs("work_orders")
def part_purchase(request: MemberRequest) -> HttpResponse:
    """Show what to buy for the next 30, 60 or 90 days; with format=csv as a file."""
    days = next((span for span in SPANS if str(span) == request.GET.get("days")), SPANS[0])
    rows = purchasing.purchase_list(days=days)
    if request.GET.get("format") == "csv":
        name = f"purchase-{request.organisation.slug}-{days}-days.csv"
        return csv_file([[each.format(level=SERVICE_LEVEL) for each in COLUMNS], *_lines(rows)], name)
    return render(
        request,
        "servicing/purchase.html",
        {
            "days": days,
            "spans": SPANS,
            "buy": [row for row in rows if row.enough],
            "there": [row for row in rows if not row.enough],
            "cost": sum(row.cost for row in rows),
            "unpriced": sum(1 for row in rows if row.enough and not row.part.unit_cost),
            "rough": any(not row.wanted.exact for row in rows),
        },
    )


def _page(
    request: MemberRequest,
    shown: Part,
    form: PartForm,
    *,
    tried: CountForm | None = None,
    changing: bool = False,
    status: int = 200,
) -> HttpResponse:
    (row,) = process.stocktaking(Part.objects.filter(pk=shown.pk))
    tried_yard = tried.data.get("yard") if tried else None
    counts = [
        (
            each,
            tried
            if tried and str(each.yard.pk) == tried_yard
            else CountForm(
                part=shown,
                auto_id=f"yard-{each.yard.pk}-%s",
                initial={
                    "yard": each.yard.pk,
                    "quantity": max(each.quantity, 0),
                    "reorder_point": each.reorder_point,
                },
            ),
        )
        for each in row.yards
    ]
    course, day = stock_courses([row], part=shown)[shown.pk], request.organisation.today()
    reorder_point = float(sum(each.reorder_point for each in row.yards))
    lines = Line.objects.filter(open=True, task__supplies__part=shown).select_related("order__machine")
    return render(
        request,
        "servicing/part.html",
        {
            "part": shown,
            "row": row,
            "counts": counts,
            "course": course,
            "cover": cover(course, unit=shown.unit, today=day),
            "chart": stock_chart(course, unit=shown.unit, reorder_point=reorder_point, today=day),
            "days": DAYS,
            "in_words": in_words(course, unit=shown.unit, reorder_point=reorder_point, today=day),
            "form": form,
            "tried": tried,
            "changing": changing,
            "tasks": Task.objects.filter(supplies__part=shown, version__state="current").select_related(
                "version__program"
            ),
            "waiting": lines.order_by("order__number"),
            "uses": shown.uses.select_related("order__machine").order_by("-order__closed_at", "-pk")[:USES],
        },
        status=status,
    )


def _lines(rows: list[PurchaseLine]) -> Iterator[list[object]]:
    for row in rows:
        yield [
            row.part.number,
            row.part.name,
            row.part.grade,
            row.part.unit,
            row.wanted.expected,
            row.wanted.enough,
            row.stock.quantity,
            row.stock.reserved,
            "; ".join(
                gettext("{quantity} of {part}").format(quantity=quantity, part=other.number)
                for other, quantity in row.stand_ins
            ),
            row.expected,
            row.enough,
        ]
