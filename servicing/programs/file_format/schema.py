"""The keys of a program file, as fixtures/programs/README.md describes them."""

from decimal import Decimal
from typing import Any

from fleet.models.machine import Category, WorkingCondition
from servicing.measurements import limits
from servicing.models import Caution, Check, Task
from servicing.planning.intervals import Anchor
from servicing.programs.file_format.faults import Faults
from servicing.programs.file_format.limits import MOST_TASKS
from servicing.programs.file_format.validators import (
    Key,
    Wrong,
    each,
    flag,
    needed,
    number,
    numbered,
    one_of,
    row,
    rows,
    signed,
    slug,
    text,
    whole,
)

NEVER_CONVERTED = ("A", "Hz", "Mohm", "percent", "h")  # units that stand alone
UNITS = {unit for kind in limits.KINDS for unit in kind} | set(NEVER_CONVERTED)

hours = number(places=2, digits=9)
period = number(places=2, digits=9, above_zero=True)
months = whole(600, least=1)


def unit(value: Any, faults: Faults) -> str:
    """A unit a check can be judged in, as Hourmark writes it."""
    written: str = limits.spelled(text(12)(value, faults))
    if written not in UNITS:
        raise Wrong(f"is {value!r}, which is not a unit known here")
    return written


INTERVAL = {
    "condition": Key(one_of(WorkingCondition.values), WorkingCondition.NORMAL.value),
    "first_hours": Key(period),
    "every_hours": Key(period),
    "first_months": Key(months),
    "every_months": Key(months),
    "anchor": Key(one_of([anchor.value for anchor in Anchor])),
    "once": Key(flag, False),
    "early_window_hours": Key(hours, Decimal(0)),
    "late_allowance_hours": Key(hours, Decimal(0)),
    "to_month_end": Key(flag, False),
}
CAUTION = {
    "hazard": needed(one_of(Caution.Hazard.values)),
    "text": needed(text()),
    "before_step": Key(whole(least=1), 0),
}
TOOL = {"tool": needed(text(80)), "size": Key(text(40), "")}
SUPPLY = {
    "name": needed(text(120)),
    "number": needed(text(60)),
    "quantity": needed(number(places=2, digits=9, above_zero=True)),
    "grade": Key(text(120), ""),
    "unit": Key(text(12), "pc"),
}
CHOICE = {"value": needed(text(80)), "meaning": Key(text(empty=True), ""), "passes": needed(flag)}

ANY_CHECK = {
    "code": needed(slug),
    "kind": needed(one_of(Check.Kind.values)),
    "label": needed(text(160)),
    "safety": Key(flag, False),
}
LIMITS = {"unit": needed(unit), "lower": Key(signed), "upper": Key(signed), "target": Key(signed)}
LOOK = {"choices": needed(rows(CHOICE))}
CHECKS: dict[str, dict[str, Key]] = {
    Check.Kind.MEASURE.value: ANY_CHECK | LIMITS,
    Check.Kind.TORQUE.value: ANY_CHECK
    | {"unit": needed(unit), "target": needed(signed), "lower": needed(signed), "upper": needed(signed)}
    | {"socket": needed(text(20)), "pattern": needed(text(80))},
    Check.Kind.SIGHT.value: ANY_CHECK | LOOK,
    Check.Kind.LEVEL.value: ANY_CHECK | LOOK,
    Check.Kind.FUNCTION.value: ANY_CHECK | {"steps": needed(each(text())), "expect": needed(text())},
}
EMPTY_CHECK: dict[str, Any] = {
    **dict.fromkeys(["code", "kind", "label", "unit", "expect", "socket", "pattern"], ""),
    **dict.fromkeys(["lower", "upper", "target"]),
    "safety": False,
    "choices": [],
    "steps": [],
}


def checks(value: Any, faults: Faults) -> list[dict[str, Any]]:
    """A list of checks; which keys one has is decided by its kind."""
    found: list[dict[str, Any]] = []
    for entry, place in numbered(value, faults, "code"):
        kind = entry.get("kind") if isinstance(entry, dict) else None
        keys = CHECKS.get(str(kind))
        if keys is None:  # say that the kind is wrong, and not that every other key is
            entry = {name: entry[name] for name in ANY_CHECK if isinstance(entry, dict) and name in entry}
        check = row(entry, keys or ANY_CHECK, place)
        for name, empty in EMPTY_CHECK.items():
            check.setdefault(name, empty)
        found.append(check)
    return found


TASK = {
    "code": needed(slug),
    "title": needed(text(160)),
    "intervals": needed(rows(INTERVAL, name="condition")),
    "needs": Key(each(slug), []),
    "without": Key(each(slug), []),
    "skill": needed(one_of(Task.Skill.values)),
    "minutes": needed(whole()),
    "wait_minutes": Key(whole(), 0),
    "waits_after": Key(whole(), 0),
    "engine": needed(one_of(Task.Engine.values)),
    "place": needed(slug),
    "opens": Key(each(slug), []),
    "prepare": needed(each(text())),
    "cautions": Key(rows(CAUTION), []),
    "tools": Key(rows(TOOL, name="tool"), []),
    "supplies": Key(rows(SUPPLY, name="number"), []),
    "steps": needed(each(text())),
    "checks": Key(checks, []),
    "outside": Key(one_of(Task.Outside.values)),
    "outside_text": Key(text()),
    "manual_page": needed(text(20)),
    "note": Key(text(empty=True), ""),
}
# a draft's task, which is filled in little by little: only what it is and when it falls due must be there
DRAFT_TASK = TASK | {
    "skill": Key(one_of(Task.Skill.values), Task.Skill.TECHNICIAN.value),
    "minutes": Key(whole(), 0),
    "engine": Key(one_of(Task.Engine.values), Task.Engine.ANY.value),
    "place": Key(slug, ""),
    "prepare": Key(each(text()), []),
    "steps": Key(each(text()), []),
    "manual_page": Key(text(20, empty=True), ""),
    "outside": Key(one_of(Task.Outside.values), Task.Outside.ADJUST.value),
    "outside_text": Key(text(empty=True), ""),
}
PROGRAM = {
    "program": needed(slug),
    "title": needed(text(120)),
    "maker": needed(text(80)),
    "model": needed(text(80)),
    "category": needed(one_of(Category.values)),
    "source": needed(text()),
    "invented": Key(flag, False),
    "fitments": Key(rows({"code": needed(slug), "name": needed(text(80))}, name="code"), []),
    "round": needed(each(slug)),
    "tasks": needed(rows(TASK, name="code", most=MOST_TASKS)),
}
