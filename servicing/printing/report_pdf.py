"""A month's report on paper: the same figures and sentences as its page, every machine in its tables."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from fleet.core.wording import figure, worktime
from fleet.usage.figures import day_of_printing
from servicing.duties.expected_work import DAYS
from servicing.ledger import foremost
from servicing.ledger.monthly_sheet import MachineMonth, Sheet
from servicing.models.program import INVENTED_FIGURES
from servicing.printing.typst import set_pdf
from servicing.reports import wording
from servicing.reports.wording import Answer

Table = dict[str, Any]


def report(sheet: Sheet, *, organisation: Any, size: str, at: datetime) -> bytes:
    """Return the month as a PDF on "a4" or "letter"."""
    return set_pdf("report", words(sheet, organisation=organisation, at=at), size=size, at=at)


def words(sheet: Sheet, *, organisation: Any, at: datetime) -> dict[str, Any]:
    """Return everything that stands on it, as people read it; `at`: when it is printed."""
    printed = at.astimezone(ZoneInfo(organisation.zone)).date()
    return {
        "organisation": organisation.name,
        "title": wording.report_of(sheet),
        "ran": wording.ran(sheet),
        "printed": day_of_printing(printed),
        "invented": _(INVENTED_FIGURES) if sheet.invented else "",
        "answers": [
            _answer(_("Are we keeping up?"), wording.kept(sheet)),
            _answer(_("What did it cost?"), wording.spent(sheet, organisation)),
            _answer(
                _("What comes in {days} days?").format(days=DAYS),
                wording.expected(sheet, organisation, printed),
            ),
        ],
        "tables": [
            table
            for table in (_work(sheet), _cost(sheet, organisation), _coming(sheet, organisation))
            if table["rows"]
        ],
        "how": wording.how_counted(sheet),
    }


def _answer(question: str, answer: Answer) -> dict[str, str]:
    return {"question": question, "figure": answer.figure, "name": answer.name, "more": answer.more}


def _work(sheet: Sheet) -> Table:
    def line(name: str, of: MachineMonth | Sheet) -> list[str]:
        marks = of.marks
        counted = (
            marks.due,
            marks.in_time,
            marks.late,
            marks.not_done,
            marks.carried_in,
            marks.still_open,
            of.deferred,
        )
        return [name, *map(str, counted), figure(of.days_down, 1)]

    return {
        "title": _("Work by machine"),
        "note": "",
        "head": [
            _("Machine"),
            _("Fell due"),
            _("In time"),
            _("Late"),
            _("Not done"),
            _("Backlog done"),
            _("Backlog open"),
            _("Deferred"),
            _("Down time, days"),
        ],
        "rows": [line(row.tag, row) for row in foremost.worked_on(sheet)],
        "total": line(_("All machines"), sheet),
        "after": "",
    }


def _cost(sheet: Sheet, organisation: Any) -> Table:
    compared = sheet.compared
    money_in = _("Money in {currency}.").format(currency=organisation.currency)

    def line(name: str, of: MachineMonth | Sheet, expected: Any) -> list[str]:
        cost = of.cost
        money = [cost.total, of.per_hour, cost.parts, cost.labour, *([expected] if compared else [])]
        return [name, figure(of.hours, 1), *(figure(value, 2) for value in money)]

    return {
        "title": _("Hours and cost by machine"),
        "note": f"{money_in} {wording.hours_left_out(sheet)}".strip(),
        "head": [
            _("Machine"),
            _("Hours run"),
            _("Cost"),
            _("Per hour"),
            _("Parts"),
            _("Labour"),
            *([_("Standard expects")] if compared else []),
        ],
        "rows": [line(row.tag, row, row.expected_cost) for row in sheet.rows],
        "total": line(_("All machines"), sheet, compared[1] if compared else None),
        "after": wording.standard(sheet, organisation),
    }


def _coming(sheet: Sheet, organisation: Any) -> Table:
    total = sheet.coming
    rows = [
        [
            row.tag,
            str(row.coming.overdue),
            figure(row.coming.jobs, 1),
            wording.labour(row.coming),
            wording.supplies(row.coming),
        ]
        for row in foremost.coming(sheet)
    ]
    return {
        "title": _("The next {days} days by machine").format(days=DAYS),
        "note": "",
        "head": [
            _("Machine"),
            _("Overdue today"),
            _("Tasks expected"),
            _("Labour time"),
            _("Supplies, {currency}").format(currency=organisation.currency),
        ],
        "rows": rows,
        "total": [
            _("All machines"),
            str(total.overdue),
            figure(total.jobs, 1),
            worktime(total.minutes),
            figure(total.supplies),
        ],
        "after": "",
    }
