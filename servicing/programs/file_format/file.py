"""Reading a program file as a whole: every fault is found at once, each with its place."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from pydantic import ValidationError

from servicing import models
from servicing.measurements import limits
from servicing.planning.intervals import NORMAL, Rule
from servicing.programs.file_format import grammar
from servicing.programs.file_format.faults import Faults, ProgramFaults, count
from servicing.programs.file_format.limits import MOST_FAULTS
from servicing.programs.file_format.sentences import say_faults
from servicing.programs.file_format.yaml_lines import line_of


@dataclass(frozen=True, slots=True)
class ProgramText:
    """A program as its file says it, checked. Rows have the names of the models' fields."""

    code: str
    title: str
    maker: str
    model: str
    category: str
    source: str
    invented: bool
    fitments: list[dict[str, Any]]
    round: list[str]
    tasks: list[dict[str, Any]]


EMPTY_TASK: dict[str, Any] = {
    name: field.default for name, field in grammar.DraftTask.model_fields.items() if not field.is_required()
} | {"intervals": []}
"""A draft's task of which nothing is known yet."""
EMPTY_CHECK: dict[str, Any] = {
    column.name: column.get_default()
    for column in models.Check._meta.concrete_fields
    if any(column.name in check.model_fields for check in grammar.CHECKS.values())
}
"""What stands in a check for the keys that its kind has not."""


def read(document: Any, *, invented: bool = True) -> ProgramText:
    """Return the program that a document holds. Raises ProgramFaults with all that is wrong.

    invented: whether one with invented figures is taken; else that is one more fault.

    A document that `parse` returned has every fault said with its line.
    """
    faults = Faults()
    try:
        program = grammar.Program.model_validate(document)
    except ValidationError as error:
        say_faults(error, document, faults)
    else:  # rows are whole: now see whether they fit together
        _fit_together(program, faults)
    if not invented and isinstance(document, dict) and document.get("invented") is True:
        faults.on(line_of(document, "invented")).say(
            _(
                "invented: do not service a machine by these figures. Use the maker's manual. To only try "
                "the programme out, say so: --invented, or the box on the page"
            )
        )
    if faults.said:
        raise ProgramFaults(_first(faults.said))
    head = program.model_dump(exclude={"program", "tasks"})
    return ProgramText(code=program.program, tasks=[_row(task) for task in program.tasks], **head)


def read_draft_task(
    entry: Any, *, fitments: Collection[str], places: Collection[str], parts: dict[str, tuple[str, ...]]
) -> dict[str, Any]:
    """Return one task of a draft, checked as in a file, though much of it may still be missing.

    fitments, places: the codes that a task may name. parts: (name, grade, unit) by number in small letters,
    as the draft's other tasks say them. Raises ProgramFaults.
    """
    faults = Faults()
    try:
        task = grammar.DraftTask.model_validate(entry)
    except ValidationError as error:
        say_faults(error, entry, faults)
    else:
        _task(task, faults, fitments, ["", *places], dict(parts))
    if faults.said:
        raise ProgramFaults(faults.said)
    return _row(task)


def _first(said: list[str]) -> list[str]:
    """The faults that a person can take in at once."""
    more = len(said) - MOST_FAULTS
    return [*said[:MOST_FAULTS], _("and {n} more").format(n=count(more))] if more > 0 else said


def _row(task: grammar.Task) -> dict[str, Any]:
    """A task with the names and values of the models' fields, whatever it leaves out."""
    row = task.model_dump(warnings=False)
    for interval in row["intervals"]:
        interval["anchor"] = interval["anchor"] or models.Interval.Anchor.MARKS.value
    row["checks"] = [{**EMPTY_CHECK, **check, "kind": check["kind"].value} for check in row["checks"]]
    row["outside"] = row["outside"] or models.Task.Outside.ADJUST.value
    row["outside_text"] = row["outside_text"] or ""
    return row


def _fit_together(program: grammar.Program, faults: Faults) -> None:
    _once(program.fitments, "code", "fitments", faults)
    _once(program.tasks, "code", "tasks", faults)
    fitments = {fitment.code for fitment in program.fitments}
    parts: dict[str, tuple[str, ...]] = {}
    for position, task in enumerate(program.tasks):
        place = faults.at(f"tasks[{position}] {task.code}", task.line)
        _task(task, place, fitments, program.round, parts)
        _outside(task, place)


def _task(
    task: grammar.Task,
    place: Faults,
    fitments: Collection[str],
    places: Collection[str],
    parts: dict[str, tuple[str, ...]],
) -> None:
    _intervals(task.intervals, place, on_occasion=bool(task.occasion.strip()))
    _once(task.checks, "code", "checks", place)
    for number, check in enumerate(task.checks):
        _check(check, place.at(f"checks[{number}] {check.code}", check.line))
    for key, named in (("needs", task.needs), ("without", task.without)):
        for code in sorted(set(named) - set(fitments)):
            place.say(_("{key} {code}, which is not one of the fitments").format(key=key, code=code))
    for code in sorted(set(task.needs) & set(task.without)):
        place.say(_("both needs and excludes {code}").format(code=code))
    if task.place not in places:
        place.say(_("place is {place}, which is not listed under round").format(place=repr(task.place)))
    if task.waits_after > len(task.steps):
        fault = _("waits_after is {number}, but there is no such step")
        place.say(fault.format(number=task.waits_after))
    elif task.waits_after and not task.wait_minutes:
        place.say(_("waits_after has no meaning without wait_minutes"))
    for number, caution in enumerate(task.cautions):
        there = place.at(f"cautions[{number}]", caution.line)
        if caution.before_step > len(task.steps):
            there.say(_("there is no step {number}").format(number=caution.before_step))
        if len(set(caution.actions)) < len(caution.actions):
            there.say(_("actions list one twice"))
    for number, supply in enumerate(task.supplies):
        said = (supply.name, supply.grade, supply.unit)
        if parts.setdefault(supply.number.lower(), said) != said:
            place.at(f"supplies[{number}] {supply.number}", supply.line).say(
                _("has a different name, grade or unit from an earlier task")
            )


def _once(entries: Iterable[grammar.Keys], key: str, name: str, faults: Faults) -> None:
    seen = set()
    for position, entry in enumerate(entries):
        value = getattr(entry, key)
        if value in seen:
            faults.at(f"{name}[{position}] {value}", entry.line).say(
                _("{key} is there already").format(key=key)
            )
        seen.add(value)


def _intervals(intervals: Collection[grammar.Interval], faults: Faults, *, on_occasion: bool = False) -> None:
    """Say what is wrong with a task's intervals; it may have none where it is done on an occasion."""
    _once(intervals, "condition", "intervals", faults)
    if on_occasion and not intervals:
        return
    if NORMAL not in {interval.condition for interval in intervals}:
        faults.say(_("intervals need one for the condition normal"))
    for position, interval in enumerate(intervals):
        place = faults.at(f"intervals[{position}]", interval.line)
        if interval.once == bool(interval.anchor):
            place.say(_("anchor has no meaning with once") if interval.once else _("anchor missing"))
        try:
            Rule(**interval.model_dump(exclude={"condition", "anchor"}))
        except ValueError as error:
            place.say(str(error))


def _check(check: grammar.AnyCheck, faults: Faults) -> None:
    if isinstance(check, grammar.Measure) and check.lower is None and check.upper is None:
        faults.say(_("lower or upper missing"))
    if isinstance(check, grammar.Measure | grammar.Torque):
        lower, upper = check.lower, check.upper
        if lower is not None and upper is not None and lower > upper:
            faults.say(_("lower is above upper"))
        if check.target is not None and not limits.Rule(lower=lower, upper=upper).allows(check.target):
            faults.say(_("target is outside the limits"))
    if isinstance(check, grammar.Look):
        values = [choice.value for choice in check.choices]
        if len(set(values)) < len(values):
            faults.say(_("choices list a value twice"))
        if not any(choice.passes for choice in check.choices):
            faults.say(_("choices need one that passes"))


def _outside(task: grammar.Task, faults: Faults) -> None:
    """Outside the limits has a meaning only where there are limits."""
    for key, value in (("outside", task.outside), ("outside_text", task.outside_text)):
        if task.checks and value is None:
            faults.say(_("{key} missing").format(key=key))
        elif not task.checks and value is not None:
            faults.say(_("{key} has no meaning without checks").format(key=key))
