"""Ledger: what did it cost, are we keeping up, what comes next month?"""

from collections.abc import Iterator

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.web.csv_file import csv_file
from fleet.web.guards import needs
from servicing import month as process
from servicing.ledger.costs import STANDARD
from servicing.ledger.period import Month
from servicing.ledger.sheet import Row, Sheet

EARLIEST = Month(1970, 1)
COLUMNS = (
    "machine",
    "type",
    "hours run",
    "parts {currency}",
    "labour {currency}",
    "cost {currency}",
    "cost per hour {currency}",
    "standard expects {currency}",
    "days down",
    "fell due",
    "done in time",
    "done late",
    "not done",
    "done in time per cent of fell due",
    "due earlier, done now",
    "due earlier, still open",
    "left with a reason",
    "past its mark today",
    "jobs expected in {days} days",
    "hands-on minutes expected",
    "supplies expected {currency}",
)


@needs("see_ledger")
def ledger(request: HttpRequest) -> HttpResponse:
    """Show a month, the last full one unless another is asked for; with format=csv as a file."""
    organisation = request.organisation
    current = Month.of(organisation.today())
    chosen, wrong = _chosen(request.GET.get("month", ""), current)
    sheet = process.collect(organisation=organisation, month=chosen)
    if request.GET.get("format") == "csv":
        return _file(sheet, organisation.slug, organisation.currency)
    return render(
        request,
        "servicing/ledger.html",
        {
            "sheet": sheet,
            "wrong": wrong,
            "earlier": chosen.plus(-1) if chosen > EARLIEST else None,
            "later": chosen.plus(1) if chosen < current else None,
            "current": current,
            "worked_on": [row for row in sheet.rows if _has_work(row)],
            "coming": [row for row in sheet.rows if row.coming.jobs],
            "today": organisation.today(),
            "days_ahead": process.DAYS_AHEAD,
            "standard": STANDARD,
        },
    )


def _chosen(asked: str, current: Month) -> tuple[Month, str]:
    """Return the month to show, and what is wrong with the one asked for."""
    usual = current.plus(-1)
    if not asked:
        return usual, ""
    try:
        month = Month.parse(asked)
    except ValueError:
        return usual, "That is no month; write it like 2026-10."
    if month > current:
        return current, f"{_named(month)} is still to come; this is the month so far."
    return max(month, EARLIEST), ""


def _named(month: Month) -> str:
    return f"{month.first_day:%B} {month.year}"


def _has_work(row: Row) -> bool:
    marks = row.marks
    return bool(marks.due or marks.carried_in or marks.still_open or row.left or row.days_down)


def _file(sheet: Sheet, slug: str, currency: str) -> HttpResponse:
    names = [name.format(currency=currency, days=process.DAYS_AHEAD) for name in COLUMNS]
    return csv_file([names, *_lines(sheet)], f"ledger-{slug}-{sheet.month}.csv")


def _lines(sheet: Sheet) -> Iterator[list[object]]:
    for row in sheet.rows:
        yield _line(row.tag, row.kind, row, row.expected_cost)
    compared = sheet.compared
    yield _line("all machines", "", sheet, compared[1] if compared else None)


def _line(name: str, kind: str, row: Row | Sheet, expected: object) -> list[object]:
    """One line of the file; a figure that isn't known is an empty cell."""
    marks, coming = row.marks, row.coming
    figures = (
        row.hours,
        row.cost.parts,
        row.cost.labour,
        row.cost.total,
        row.per_hour,
        expected,
        row.days_down,
        marks.due,
        marks.in_time,
        marks.late,
        marks.not_done,
        marks.of_due,
        marks.carried_in,
        marks.still_open,
        row.left,
        coming.past,
        coming.jobs,
        coming.minutes,
        coming.supplies,
    )
    return [name, kind, *("" if value is None else value for value in figures)]
