"""The job sheet on paper: room to write in, and the last values beside each check."""

from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from fleet.core.wording import day_of_year, exact, hours, hours_of, task_time, worktime
from fleet.usage.figures import TIGHT
from servicing.job_sheet import wording
from servicing.job_sheet.build import JobSheet, SheetCheck, SheetLine
from servicing.measurements import limits
from servicing.measurements.previous_values import Last
from servicing.models import CheckResult, Line, Task
from servicing.models.program import INVENTED_FIGURES
from servicing.planning.merge_lists import Supply
from servicing.printing import signs
from servicing.printing.typst import set_pdf, square


def job_sheet(sheet: JobSheet, *, size: str, at: datetime) -> bytes:
    """Return the sheet as a PDF on "a4" or "letter"."""
    return set_pdf("job_sheet", words(sheet, at=at), size=size, at=at)


def words(sheet: JobSheet, *, at: datetime) -> dict[str, Any]:
    """Return everything that stands on the sheet, as people read it; days and times are the yard's."""
    order, machine = sheet.order, sheet.order.machine
    address = f"{settings.SITE_URL}{order.get_absolute_url()}"
    meter = machine.meter_shows
    printed = at.astimezone(machine.yard.zoneinfo)
    return {
        "organisation": machine.yard.organisation.name,
        "number": str(order.number),
        "machine": machine.tag,
        "title": _("Job sheet {number}: {machine}").format(number=order.number, machine=machine.tag),
        "order": _("Order {number}").format(number=order.number),
        "invented": _(INVENTED_FIGURES) if sheet.invented else "",
        "about": _joined(
            machine.type,
            machine.serial and _("serial {number}").format(number=machine.serial),
            machine.yard,
            hours_of(machine),
        ),
        "address": address,
        "square": square(address),
        "printed": f"{_day(printed.date())}, {printed:%H:%M}",
        "technician": str(order.technician or _("not assigned")),
        "day": _day(order.planned_for) if order.planned_for else _("no day yet"),
        "expected": worktime(sheet.elapsed_minutes) if sheet.elapsed_minutes else _("not known"),
        "hands_on": wording.hands_on(sheet),
        "hands_off": _hands_off(sheet),
        "note": order.note,
        "meter": _("Meter at close")
        if meter is None
        else _("Meter at close (last {hours})").format(hours=hours(meter)),
        "prepare": [text for text in (sheet.standing, *sheet.prepare) if text],
        "tools": [str(tool) for tool in sheet.tools],
        "supplies": [_supply(supply) for supply in sheet.supplies],
        "lines": [_line(row) for row in sheet.lines],
        "signs": signs.drawings(),
    }


def _line(row: SheetLine) -> dict[str, Any]:
    task = row.line.task
    return {
        "number": str(row.number),
        "title": row.line.title,
        "where": _sentence(row.place),
        "engine": _engine(task.engine) if task else "",
        "time": _time(task) if task else "",
        "page": _("manual p. {page}").format(page=task.manual_page) if task and task.manual_page else "",
        "note": task.note if task else "",
        "licensed": bool(task and task.skill == Task.Skill.LICENSED),
        "before": _before(row),
        "prepare": list(row.prepare),
        "cautions": [signs.printed(caution) for caution in row.first],
        "steps": [
            {
                "text": step.text,
                "cautions": [signs.printed(caution) for caution in step.cautions],
                "wait": wording.while_it_waits(row) if number == row.waits_after < len(row.steps) else "",
            }
            for number, step in enumerate(row.steps, start=1)
        ],
        "checks": [_check(each) for each in row.checks],
        "outside": _("Outside the limits: {what_to_do}").format(what_to_do=task.outside_text)
        if task and row.checks and task.outside_text
        else "",
        "wait": wording.while_it_waits(row) if row.waits_after == len(row.steps) else "",
        "closes": _("Close: {parts}.").format(parts=", ".join(row.closes)) if row.closes else "",
        "back": wording.then_back(row),
        "outcomes": _outcomes(bool(task)),
    }


def _engine(engine: str) -> str:
    said = {Task.Engine.WARM: _("Engine warm"), Task.Engine.COLD: _("Engine cold")}
    return said.get(Task.Engine(engine), "")


def _outcomes(of_a_task: bool) -> list[str]:
    """What may be ticked, in small letters."""
    said = {
        Line.Outcome.DONE: pgettext("outcome", "done"),
        Line.Outcome.ADJUSTED: pgettext("outcome", "adjusted"),
        Line.Outcome.DEFERRED: pgettext("outcome", "deferred"),
        Line.Outcome.REFERRED: pgettext("outcome", "referred"),
        Line.Outcome.NOT_FITTED: pgettext("outcome", "not fitted"),
    }
    return [said[each] for each in Line.Outcome if of_a_task or each != Line.Outcome.NOT_FITTED]


def _before(row: SheetLine) -> list[str]:
    opens = [_("Open: {parts}.").format(parts=", ".join(row.opens))] if row.opens else []
    return [*wording.before(row), *opens]


def _check(each: SheetCheck) -> dict[str, Any]:
    check = each.check
    how = [*check.steps, *([_("What must happen: {what}").format(what=check.expect)] if check.expect else [])]
    return {
        "label": check.label,
        "safety": check.safety,
        "limit": each.limit,
        "hint": each.hint,
        "how": " ".join(how),
        "socket": _joined(check.socket and _("socket {size}").format(size=check.socket), check.pattern),
        "unit": limits.spelled(check.unit) if check.is_numeric else "",
        "choices": []
        if check.is_numeric
        else [
            {"value": choice["value"], "meaning": choice.get("meaning", "")}
            for choice in limits.words(check.choices)
        ],
        "found": _entered(each.result, "found"),
        "left": _entered(each.result, "left"),
        "last": _last(each.last),
    }


def _entered(result: CheckResult | None, moment: str) -> str:
    return getattr(result, f"as_{moment}", "")


def _last(last: Last | None) -> dict[str, str]:
    if last is None:
        return {}
    found, when = last.found or "–", _day(last.on)
    return {
        "found": _("{found}, left {left}").format(found=found, left=last.left) if last.left else found,
        "outside": _("outside its limits") if last.passes is False else "",
        "when": when
        if last.hours is None
        else _("{day} at {hours}").format(day=when, hours=hours(last.hours)),
    }


def _supply(supply: Supply) -> dict[str, str]:
    return {
        "name": supply.name,
        "number": supply.number,
        "grade": supply.grade,
        "needed": f"{exact(supply.quantity)}\u00a0{supply.unit}",
        "stock": exact(supply.in_stock),
        "short": _("short {quantity}").format(quantity=f"{exact(supply.short)}\u00a0{supply.unit}")
        if supply.short
        else "",
    }


def _time(task: Task) -> str:
    work = task_time(task.minutes)
    if not task.wait_minutes:
        return work
    return _("{work} + {wait} waiting").format(work=work, wait=worktime(task.wait_minutes))


def _hands_off(sheet: JobSheet) -> str:
    if not sheet.wait_minutes:
        return pgettext("waiting time", "none")
    waiting = worktime(sheet.wait_minutes)
    if not sheet.idle_minutes:
        return waiting
    return _("{waiting}, {idle} of it with nothing else to do").format(
        waiting=waiting, idle=worktime(sheet.idle_minutes)
    )


def _day(day: date) -> str:
    return day_of_year(day).replace(" ", TIGHT)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _joined(*parts: Any) -> str:
    return ", ".join(str(part) for part in parts if part)
