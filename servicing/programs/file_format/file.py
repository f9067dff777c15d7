"""Reading a program file as a whole: every fault is found at once, each with its place."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from servicing.measurements import limits
from servicing.planning.intervals import NORMAL, Anchor, Rule
from servicing.programs.file_format.faults import Faults, ProgramFaults
from servicing.programs.file_format.limits import MOST_FAULTS
from servicing.programs.file_format.schema import DRAFT_TASK, PROGRAM
from servicing.programs.file_format.validators import row
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


EMPTY_TASK: dict[str, Any] = {name: key.default for name, key in DRAFT_TASK.items()} | {"intervals": []}
"""A draft's task of which nothing is known yet."""


def read(document: Any, *, invented: bool = True) -> ProgramText:
    """Return the program that a document holds. Raises ProgramFaults with all that is wrong.

    invented: whether one with invented figures is taken; else that is one more fault.

    A document that `parse` returned has every fault said with its line.
    """
    faults = Faults()
    found = row(document, PROGRAM, faults)
    if not faults.said:  # rows are whole: now see whether they fit together
        _fit_together(found, faults)
    if found["invented"] and not invented:
        faults.on(line_of(document, "invented")).say(
            "invented: no machine may be serviced by these figures. Use the maker's manual. To only try the "
            "program out, say so: --invented, or the box on the page"
        )
    if faults.said:
        raise ProgramFaults(_first(faults.said))
    return ProgramText(code=found.pop("program"), **found)


def read_draft_task(
    entry: Any, *, fitments: Collection[str], places: Collection[str], parts: dict[str, tuple[str, ...]]
) -> dict[str, Any]:
    """Return one task of a draft, checked as in a file, though much of it may still be missing.

    fitments, places: the codes that a task may name. parts: (name, grade, unit) by number in small letters,
    as the draft's other tasks say them. Raises ProgramFaults.
    """
    faults = Faults()
    task = row(entry, DRAFT_TASK, faults)
    if not faults.said:
        _task(task, faults, fitments, ["", *places], dict(parts))
    if faults.said:
        raise ProgramFaults(faults.said)
    return task


def _first(said: list[str]) -> list[str]:
    """The faults that a person can take in at once."""
    more = len(said) - MOST_FAULTS
    return [*said[:MOST_FAULTS], f"and {more:,} more"] if more > 0 else said


def _fit_together(program: dict[str, Any], faults: Faults) -> None:
    _once(program["fitments"], "code", "fitments", faults)
    _once(program["tasks"], "code", "tasks", faults)
    fitments = {fitment["code"] for fitment in program["fitments"]}
    parts: dict[str, tuple[str, ...]] = {}
    for position, task in enumerate(program["tasks"]):
        place = faults.at(f"tasks[{position}] {task['code']}", line_of(task))
        _task(task, place, fitments, program["round"], parts)
        _outside(task, place)


def _task(
    task: dict[str, Any],
    place: Faults,
    fitments: Collection[str],
    places: Collection[str],
    parts: dict[str, tuple[str, ...]],
) -> None:
    _intervals(task["intervals"], place)
    _once(task["checks"], "code", "checks", place)
    for number, check in enumerate(task["checks"]):
        _check(check, place.at(f"checks[{number}] {check['code']}", line_of(check)))
    for key in ("needs", "without"):
        for code in sorted(set(task[key]) - set(fitments)):
            place.say(f"{key} {code}, which is not among the fitments")
    for code in sorted(set(task["needs"]) & set(task["without"])):
        place.say(f"both needs {code} and is without it")
    if task["place"] not in places:
        place.say(f"place is {task['place']!r}, which is not in the round")
    if task["waits_after"] > len(task["steps"]):
        place.say(f"waits_after is {task['waits_after']}, and there is no such step")
    elif task["waits_after"] and not task["wait_minutes"]:
        place.say("waits_after has no meaning without wait_minutes")
    for number, caution in enumerate(task["cautions"]):
        if caution["before_step"] > len(task["steps"]):
            place.at(f"cautions[{number}]", line_of(caution)).say(
                f"there is no step {caution['before_step']}"
            )
    for number, supply in enumerate(task["supplies"]):
        said = (supply["name"], supply["grade"], supply["unit"])
        if parts.setdefault(supply["number"].lower(), said) != said:
            place.at(f"supplies[{number}] {supply['number']}", line_of(supply)).say(
                "has another name, grade or unit than in an earlier task"
            )


def _once(entries: Iterable[dict[str, Any]], key: str, name: str, faults: Faults) -> None:
    seen = set()
    for position, entry in enumerate(entries):
        if entry[key] in seen:
            faults.at(f"{name}[{position}] {entry[key]}", line_of(entry)).say(f"{key} stands there already")
        seen.add(entry[key])


def _intervals(intervals: list[dict[str, Any]], faults: Faults) -> None:
    _once(intervals, "condition", "intervals", faults)
    if NORMAL not in {interval["condition"] for interval in intervals}:
        faults.say("intervals have none for the condition normal")
    for position, interval in enumerate(intervals):
        place = faults.at(f"intervals[{position}]", line_of(interval))
        if interval["once"] == bool(interval["anchor"]):
            place.say("anchor has no meaning with once" if interval["once"] else "anchor missing")
        interval["anchor"] = interval["anchor"] or Anchor.MARKS.value
        try:
            Rule(**{key: value for key, value in interval.items() if key != "condition"})
        except ValueError as error:
            place.say(str(error))


def _check(check: dict[str, Any], faults: Faults) -> None:
    lower, upper, target = check["lower"], check["upper"], check["target"]
    if check["kind"] == "measure" and lower is None and upper is None:
        faults.say("lower or upper missing")
    if lower is not None and upper is not None and lower > upper:
        faults.say("lower is above upper")
    if target is not None and not limits.Rule(lower=lower, upper=upper).allows(target):
        faults.say("target is outside the limits")
    values = [choice["value"] for choice in check["choices"]]
    if len(set(values)) < len(values):
        faults.say("choices have a value twice")
    if values and not any(choice["passes"] for choice in check["choices"]):
        faults.say("choices have none that passes")


def _outside(task: dict[str, Any], faults: Faults) -> None:
    """Outside the limits has a meaning only where there are limits."""
    for key in ("outside", "outside_text"):
        if task["checks"] and task[key] is None:
            faults.say(f"{key} missing")
        elif not task["checks"] and task[key] is not None:
            faults.say(f"{key} has no meaning without checks")
    task["outside"], task["outside_text"] = task["outside"] or "adjust", task["outside_text"] or ""
