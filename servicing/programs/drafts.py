"""A program as its manager writes it: a draft from a maker's table, its tasks one by one, then applied.

A draft is changed freely and nothing follows from it. Applying it moves marks:
`servicing.duties.preview` says which, and a page shows it before.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.text import slugify
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError, WrongState
from fleet.models import Fitment, MachineType, Member, Organisation
from servicing.duties.applicability import rule_of
from servicing.measurements.limits import spelled
from servicing.models import Check, Part, ProgramVersion, ServiceProgram, Task
from servicing.planning.intervals import Rule
from servicing.planning.maker_table import GridTask
from servicing.planning.table_export import Drawn, draw, marks_of
from servicing.planning.table_marks import meaning
from servicing.programs.file_format import read_draft_task
from servicing.programs.file_format.file import EMPTY_CHECK, EMPTY_TASK
from servicing.programs.load import make_current, new_version
from servicing.programs.storage import parts_for, row_of, rows_of, store, store_task

Entry = dict[str, Any]


@transaction.atomic
def begin(
    *,
    organisation: Organisation,
    machine_type: MachineType,
    title: str,
    source: str,
    tasks: Sequence[GridTask],
    member: Member | None,
    anchor: str = "marks",
) -> ProgramVersion:
    """Make a draft of the type's program from a maker's table, and the program where there is none yet.

    A task that the current version has under the same title keeps its details; its marks, page and note are
    the table's, and where that one's figures are invented, so are the draft's. Raises WrongState where the
    program has a draft already.
    """
    program = ServiceProgram.objects.filter(machine_type=machine_type).first()
    if program is None:
        program = ServiceProgram(
            organisation=organisation, machine_type=machine_type, code=_program_code(machine_type)
        )
    program.title, program.source = title, source
    program.save()
    current = program.versions.filter(state=ProgramVersion.State.CURRENT).first()
    known = {row["code"]: row for row in rows_of(current)} if current else {}
    codes = {row["title"].casefold(): code for code, row in known.items()}
    named = {task.row: codes[task.title.casefold()] for task in tasks if task.title.casefold() in codes}
    carried = bool(current and current.invented and named)
    version = new_version(program, member=member, invented=carried)
    store(version, _rows(tasks, known, named, anchor), _fitments(machine_type))
    return version


@transaction.atomic
def copy_current(*, program: ServiceProgram, member: Member) -> ProgramVersion:
    """Return the program's draft, made from its current version where there is none yet."""
    ServiceProgram.objects.select_for_update().get(pk=program.pk)
    draft = program.versions.filter(state=ProgramVersion.State.DRAFT).first()
    if draft:
        return draft
    current = program.versions.filter(state=ProgramVersion.State.CURRENT).first()
    version = new_version(program, member=member, invented=bool(current and current.invented))
    if current:
        fitments = {fitment.code: fitment for fitment in Fitment.objects.all()}
        store(version, rows_of(current), fitments)
    return version


@transaction.atomic
def retable(
    *,
    version: ProgramVersion,
    tasks: Sequence[GridTask],
    codes: Mapping[int, str],
    anchor: str = "marks",
) -> ProgramVersion:
    """Change a draft to what its table says now: tasks added, taken out, renamed, re-marked, in this order.

    codes: the code of the task that stood in a row of the table, for the rows that had one. A task whose
    marks are as they were keeps its intervals to the last detail.
    """
    _draft(version)
    known = {row["code"]: row for row in rows_of(version)}
    fitments = {fitment.code: fitment for fitment in Fitment.objects.all()}
    rows = _rows(tasks, known, {row: code for row, code in codes.items() if code in known}, anchor)
    version.tasks.all().delete()
    store(version, rows, fitments)
    return version


@transaction.atomic
def rewrite_task(*, task: Task, entry: Mapping[str, Any], new_places: Collection[str] = ()) -> Task:
    """Give a draft's task what `entry` says, in the form of the program file; its code stays.

    new_places: places on the machine that the program's round does not have yet; they are put at its end.
    Raises ProgramFaults, which says all that is wrong.
    """
    version = _draft(task.version)
    program = version.program
    places = [*program.round, *(place for place in new_places if place not in program.round)]
    fitments = _fitments(program.machine_type)
    others = Part.objects.filter(needs__task__version=version).exclude(needs__task=task)
    said: dict[str, tuple[str, ...]] = {
        part.number.lower(): (part.name, part.grade, part.unit) for part in others
    }
    row = read_draft_task({**entry, "code": task.code}, fitments=fitments, places=places, parts=said)
    if places != program.round:
        program.round = places
        program.save(update_fields=["round"])
    store_task(task, row, fitments, parts_for(version.organisation, [row]))
    return task


@transaction.atomic
def remove_task(*, task: Task) -> None:
    """Take a task out of a draft."""
    _draft(task.version)
    task.delete()


@transaction.atomic
def describe(
    *, version: ProgramVersion, title: str, source: str, round: Sequence[str], fitments: str
) -> None:
    """Change what stands outside a draft's tasks; it holds for the program at once.

    round: places in the order of one walk. fitments: names of what machines of the type may be fitted with,
    one a line; those it has stay.
    """
    program = _draft(version).program
    program.title, program.source = title, source
    used = set(version.tasks.exclude(place="").values_list("place", flat=True))
    lost = sorted(used - set(round))
    if lost:
        raise FleetError(
            _("Tasks of this draft still use: {places}.").format(places=", ".join(lost)), field="round"
        )
    program.round = list(round)
    program.save()
    for name in filter(None, (line.strip() for line in fitments.splitlines())):
        made = Fitment.objects.get_or_create(
            organisation=version.organisation, code=slugify(name)[:50], defaults={"name": name[:80]}
        )[0]
        program.machine_type.fitments.add(made)


@transaction.atomic
def apply(
    *, version: ProgramVersion, member: Member | None, note: str = "", now: datetime | None = None
) -> ProgramVersion:
    """Make a draft the current version; the former one retires, and the machines' marks are worked out again.

    Raises WrongState for what is no draft any more, FleetError for a draft without tasks.
    """
    draft = _draft(version)
    if not draft.tasks.exists():
        raise FleetError(_("The draft has no tasks; add one first."))
    draft.note = note.strip()
    return make_current(draft, member=member, now=now)


@transaction.atomic
def discard(*, version: ProgramVersion) -> None:
    """Throw a draft away, and with it a program that never had another version."""
    draft = _draft(version)
    program = draft.program
    draft.delete()
    if not program.versions.exists():
        program.delete()


def _draft(version: ProgramVersion) -> ProgramVersion:
    """The version, locked, if it still is a draft."""
    locked = ProgramVersion.objects.select_for_update().filter(pk=version.pk).first()
    if locked is None or locked.state != ProgramVersion.State.DRAFT:
        raise WrongState(_("This draft is gone: someone has applied it or thrown it away."))
    return locked


def _fitments(machine_type: MachineType) -> dict[str, Fitment]:
    return {fitment.code: fitment for fitment in machine_type.fitments.all()}


def _program_code(machine_type: MachineType) -> str:
    return _free(
        slugify(str(machine_type)) or "program", ServiceProgram.objects.values_list("code", flat=True)
    )


def _free(wanted: str, taken: Collection[str]) -> str:
    """A short name like the one wanted that is not taken."""
    code, number, taken = wanted[:50].strip("-"), 1, set(taken)
    while code in taken:
        number += 1
        code = f"{wanted[:46].strip('-')}-{number}"
    return code


def _rows(
    tasks: Sequence[GridTask], known: Mapping[str, Entry], named: Mapping[int, str], anchor: str
) -> list[Entry]:
    """The tasks of a table as rows, with the details of the known ones."""
    taken = set(known)
    rows = []
    for task in tasks:
        before = known.get(named.get(task.row, ""))
        row = {**EMPTY_TASK, **before} if before else {**EMPTY_TASK, "code": _free(_code(task.title), taken)}
        taken.add(row["code"])
        row["title"] = task.title
        row["manual_page"] = task.page or row["manual_page"]
        if not before or " ".join(row["note"].split()) != task.note:
            row["note"] = task.note
        if not before or set(marks_of(_rules(before))) != set(task.marks):
            row["intervals"] = [
                {"condition": condition, **asdict(rule)}
                for condition, rule in meaning(task.marks, anchor=anchor).rules.items()
            ]
        row["occasion"] = task.when
        row["checks"] = [*row["checks"], *_measured(task, row["checks"])]
        rows.append(row)
    return rows


def _measured(task: GridTask, checks: Sequence[Entry]) -> list[Entry]:
    """The checks for the limits of a table that a person wants values for, and that are not there yet."""
    taken, labels = {check["code"] for check in checks}, {check["label"] for check in checks}
    made = []
    for limit in task.measured:
        label = f"{task.title}: {limit.words}"[:160]
        if label in labels:
            continue
        code = _free(_code(f"{task.title} {limit.unit}"), taken)
        taken.add(code)
        kind, unit = Check.Kind.MEASURE.value, spelled(limit.unit)
        bounds = {"lower": limit.lower, "upper": limit.upper}
        made.append({**EMPTY_CHECK, "code": code, "kind": kind, "label": label, "unit": unit, **bounds})
    return made


def _code(title: str) -> str:
    return slugify(title) or "task"


def _rules(row: Entry) -> dict[str, Rule]:
    return {
        each["condition"]: Rule(**{name: value for name, value in each.items() if name != "condition"})
        for each in row["intervals"]
    }


def table_of(version: ProgramVersion) -> tuple[list[list[str]], dict[int, str]]:
    """Return the cells of a version's table, headings first, and each task's code by its row from 1."""
    tasks = list(version.tasks.prefetch_related("intervals"))
    drawn = [
        Drawn(
            task.title,
            task.manual_page,
            " ".join(task.note.split()),
            {each.condition: rule_of(each) for each in task.intervals.all()},
            task.occasion,
        )
        for task in tasks
    ]
    return draw(drawn), {row: task.code for row, task in enumerate(tasks, start=2)}


def entry_of(task: Task) -> Entry:
    """Return a task in the form of the program file, its supplies with all that is known of the part."""
    row = row_of(task)
    row["supplies"] = [
        {
            "number": need.part.number,
            "name": need.part.name,
            "grade": need.part.grade,
            "unit": need.part.unit,
            "quantity": need.quantity,
        }
        for need in task.supplies.select_related("part")
    ]
    return row
