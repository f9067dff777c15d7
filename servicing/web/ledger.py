"""Report: what did it cost, are we keeping up, what comes next month?"""

from collections.abc import Iterator

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from fleet.core.wording import month_of_year
from fleet.models import Organisation
from fleet.web.csv_file import csv_file
from fleet.web.guards import MemberRequest, needs
from servicing.duties import expected_work
from servicing.ledger import foremost
from servicing.ledger.monthly_sheet import MachineMonth, Sheet
from servicing.ledger.outlook import Outlook
from servicing.ledger.period import Month
from servicing.printing.report_pdf import report
from servicing.printing.typst import SIZES, usual_size
from servicing.reports import wording
from servicing.reports.month import collect_month

EARLIEST = Month(1970, 1)
NAME_COLUMNS = (_("machine"), _("model"), _("attachment, its hours not in the total"))
MONTH_COLUMNS = (
    _("hours run"),
    _("parts {currency}"),
    _("labour {currency}"),
    _("cost {currency}"),
    _("cost per hour {currency}"),
    _("parts without a price"),
    _("labour without an hourly rate"),
    _("orders without time entered"),
    _("standard expects {currency}"),
    _("down time days"),
    _("fell due"),
    _("done in time"),
    _("done late"),
    _("not done"),
    _("schedule compliance per cent"),
    _("backlog done"),
    _("backlog still open"),
    _("deferred"),
)
AHEAD_COLUMNS = (
    _("overdue today"),
    _("tasks expected in {days} days"),
    _("labour minutes expected"),
    _("supplies expected {currency}"),
    _("tasks expected without minutes"),
    _("supplies expected without a price"),
)
INVENTED_COLUMN = _("with invented figures")


@needs("see_ledger")
def ledger(request: MemberRequest) -> HttpResponse:
    """Show a month, the last full one unless another is asked for; with format=csv as a file."""
    organisation = request.organisation
    current = Month.of(organisation.today())
    asked = request.GET.get("month", "")
    if request.GET.get("format") == "csv":
        sheet = collect_month(organisation=organisation, month=_of_file(asked, current))
        return _file(sheet, organisation.slug, organisation.currency)
    chosen, wrong = _of_page(asked, current)
    sheet = collect_month(organisation=organisation, month=chosen)
    return render(
        request,
        "servicing/ledger.html",
        {
            "sheet": sheet,
            "wrong": wrong,
            "earlier": chosen.plus(-1) if chosen > EARLIEST else None,
            "later": chosen.plus(1) if chosen < current else None,
            "current": current,
            "first": foremost.FIRST,
            "days_ahead": expected_work.DAYS,
            **_told(sheet, organisation),
        },
    )


@require_safe
@needs("see_ledger")
def ledger_pdf(request: MemberRequest) -> HttpResponse:
    """Send the month to be printed: ?month= as on the page, ?paper=a4 or letter, as usual without it."""
    organisation = request.organisation
    chosen = _of_file(request.GET.get("month", ""), Month.of(organisation.today()))
    asked = request.GET.get("paper", "")
    made = report(
        collect_month(organisation=organisation, month=chosen),
        organisation=organisation,
        size=asked if asked in SIZES else usual_size(organisation.units),
        at=timezone.now(),
    )
    answer = HttpResponse(made, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="report-{organisation.slug}-{chosen}.pdf"'
    return answer


def _told(sheet: Sheet, organisation: Organisation) -> dict[str, object]:
    """What the page tells of a month: sentences, and which machines they are about."""
    return {
        "heading": wording.title(sheet),
        "ran": wording.ran(sheet),
        "kept": wording.kept(sheet),
        "spent": wording.spent(sheet, organisation),
        "expected": wording.expected(sheet, organisation, organisation.today()),
        "hours_left_out": wording.hours_left_out(sheet),
        "standard": wording.standard(sheet, organisation),
        "how_counted": wording.how_counted(sheet),
        "behind": foremost.behind(sheet),
        "dearest": foremost.dearest(sheet),
        "busiest": foremost.busiest(sheet),
        "worked_on": foremost.worked_on(sheet),
        "coming": foremost.coming(sheet),
    }


def _of_page(asked: str, current: Month) -> tuple[Month, str]:
    """Return the month to show, and what is wrong with the one asked for."""
    try:
        chosen = _chosen(asked, current)
    except ValueError:
        return _chosen("", current), gettext("Write the month like 2026-10.")
    if asked and (month := Month.parse(asked)) > current:
        said = gettext("{month} is still to come; this is the month so far.")
        return chosen, said.format(month=month_of_year(month.first_day))
    return chosen, ""


def _of_file(asked: str, current: Month) -> Month:
    """Return the month to send; a file has no room to say that it isn't the one asked for."""
    try:
        return _chosen(asked, current)
    except ValueError:
        raise Http404 from None


def _chosen(asked: str, current: Month) -> Month:
    """Return the month asked for, as near as there is one; the last full one without. Raises ValueError."""
    return max(min(Month.parse(asked), current), EARLIEST) if asked else current.plus(-1)


def _file(sheet: Sheet, slug: str, currency: str) -> HttpResponse:
    names = (*NAME_COLUMNS, *MONTH_COLUMNS, *AHEAD_COLUMNS, INVENTED_COLUMN)
    head = [name.format(currency=currency, days=expected_work.DAYS) for name in names]
    return csv_file([head, *_lines(sheet)], f"report-{slug}-{sheet.month}.csv")


def _lines(sheet: Sheet) -> Iterator[list[object]]:
    """One line for each machine of the month, and of those in service today; then their totals.

    A figure that isn't known is an empty cell, and so is the month of a machine that came after it.
    """
    months = {row.machine_id: row for row in sheet.rows}
    ahead = {row.machine_id: row for row in sheet.ahead}
    every = sorted((months | ahead).items(), key=lambda item: item[1].tag)
    for pk, shown in every:
        row = months.get(pk)
        yield [
            shown.tag,
            shown.kind,
            gettext("yes") if shown.hangs else "",
            *_month(row, row.expected_cost if row else None),
            *_ahead(ahead[pk].coming if pk in ahead else None),
            gettext("yes") if pk in sheet.invented else "",
        ]
    compared = sheet.compared
    yield [
        gettext("all machines"),
        "",
        "",
        *_month(sheet, compared[1] if compared else None),
        *_ahead(sheet.coming),
        gettext("yes") if sheet.invented else "",
    ]


def _month(row: MachineMonth | Sheet | None, expected: object) -> Iterator[object]:
    if row is None:
        return iter([""] * len(MONTH_COLUMNS))
    cost, marks = row.cost, row.marks
    figures = (
        row.hours,
        cost.parts,
        cost.labour,
        cost.total,
        row.per_hour,
        cost.unpriced,
        cost.unrated,
        cost.untimed,
        expected,
        row.days_down,
        marks.due,
        marks.in_time,
        marks.late,
        marks.not_done,
        marks.of_due,
        marks.carried_in,
        marks.still_open,
        row.deferred,
    )
    return ("" if value is None else value for value in figures)


def _ahead(outlook: Outlook | None) -> Iterator[object]:
    if outlook is None:
        return iter([""] * len(AHEAD_COLUMNS))
    figures = (
        outlook.overdue,
        outlook.jobs,
        outlook.minutes,
        outlook.supplies,
        outlook.untimed,
        outlook.unpriced,
    )
    return iter(figures)
