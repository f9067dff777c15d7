"""The job sheet on paper: room to write in, and the last values beside each check."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.conf import settings

from fleet.core.wording import exact, hours, hours_of, task_time, worktime
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
        "invented": INVENTED_FIGURES if sheet.invented else "",
        "about": _joined(
            machine.type, machine.serial and f"serial {machine.serial}", machine.yard, hours_of(machine)
        ),
        "address": address,
        "square": square(address),
        "printed": f"{_day(printed)}, {printed:%H:%M}",
        "technician": str(order.technician or "not assigned"),
        "day": _day(order.planned_for) if order.planned_for else "no day yet",
        "expected": worktime(sheet.elapsed_minutes) if sheet.elapsed_minutes else "not known",
        "hands_on": wording.hands_on(sheet),
        "hands_off": _hands_off(sheet),
        "note": order.note,
        "meter": "" if meter is None else f" (last {hours(meter)})",
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
        "engine": f"Engine {task.engine}" if task and task.engine != Task.Engine.ANY else "",
        "time": _time(task) if task else "",
        "page": f"manual p. {task.manual_page}" if task and task.manual_page else "",
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
        "outside": task.outside_text if task and row.checks else "",
        "wait": wording.while_it_waits(row) if row.waits_after == len(row.steps) else "",
        "closes": ", ".join(row.closes),
        "back": wording.then_back(row),
        "outcomes": [label.lower() for value, label in Line.Outcome.choices if task or value != "not fitted"],
    }


def _before(row: SheetLine) -> list[str]:
    return [*wording.before(row), *([f"Open: {', '.join(row.opens)}."] if row.opens else [])]


def _check(each: SheetCheck) -> dict[str, Any]:
    check = each.check
    how = [*check.steps, *([f"What must happen: {check.expect}"] if check.expect else [])]
    return {
        "label": check.label,
        "safety": check.safety,
        "limit": each.limit,
        "hint": each.hint,
        "how": " ".join(how),
        "socket": _joined(check.socket and f"socket {check.socket}", check.pattern),
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
    at = f" at {_hours(last.hours)}" if last.hours is not None else ""
    return {
        "found": last.found or "–",
        "left": last.left,
        "outside": "outside its limits" if last.passes is False else "",
        "when": f"{_day(last.on)}{at}",
    }


def _supply(supply: Supply) -> dict[str, str]:
    return {
        "name": supply.name,
        "number": supply.number,
        "grade": supply.grade,
        "needed": f"{exact(supply.quantity)}\u00a0{supply.unit}",
        "stock": exact(supply.in_stock),
        "short": f"{exact(supply.short)}\u00a0{supply.unit}" if supply.short else "",
    }


def _time(task: Task) -> str:
    wait = f" + {worktime(task.wait_minutes)} waiting" if task.wait_minutes else ""
    return f"{task_time(task.minutes)}{wait}"


def _hands_off(sheet: JobSheet) -> str:
    if not sheet.wait_minutes:
        return "none"
    rest = f", {worktime(sheet.idle_minutes)} of it with nothing else to do" if sheet.idle_minutes else ""
    return f"{worktime(sheet.wait_minutes)}{rest}"


def _hours(value: Decimal | None) -> str:
    return hours(value) if value is not None else "no hours yet"


def _day(day: Any) -> str:
    return f"{day.day}\u00a0{day:%b}\u00a0{day.year}"


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _joined(*parts: Any) -> str:
    return ", ".join(str(part) for part in parts if part)
