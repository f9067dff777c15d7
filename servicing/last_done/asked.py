"""What is asked: the tasks of machines that had run past their first due point before they came here."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, TypedDict

from django.db.models import Exists, OuterRef

from fleet.models import Machine
from servicing.duties.applicability import ProgramTask, as_program_task, departures
from servicing.duties.machines import read_machines
from servicing.models import Duty, LastDone, Line, ProgramVersion, ServiceProgram, Task
from servicing.planning.intervals import Rule, add_months, may_have_been_done

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    from servicing.duties.machines import StartedMachine

    class Recorded(TypedDict):
        """What is read beside a duty."""

        is_recorded: bool

    RecordedDuty = WithAnnotations[Duty, Recorded]

Key = tuple[int, int, str]
"""A machine, a program, and the code of a task."""


class State(StrEnum):
    """What is known of when a task was last done on a machine."""

    ASKED = "asked"  # it may have been done before, and nobody has said
    STATED = "stated"
    UNKNOWN = "unknown"  # somebody said that nobody knows
    RECORDED = "recorded"  # on an order
    NEW = "new"  # its first due point came, or comes, under the program


@dataclass(frozen=True)
class Start:
    """How a machine came under its program: since when it is here, and at how many hours, on which day."""

    in_service_on: date
    hours: Decimal
    on: date


@dataclass(frozen=True)
class Cell:
    """One task of one machine. is_over: a once-only task that was long outrun: not due any more."""

    machine: "StartedMachine"
    task: Task
    rule: Rule
    state: State
    duty: Duty | None = None
    said: LastDone | None = None
    is_over: bool = False

    @property
    def is_open(self) -> bool:
        """Whether it is asked and matters: a running-in task long outrun doesn't."""
        return self.state == State.ASKED and not self.is_over

    @property
    def estimated(self) -> str:
        """Which half of a statement nobody gave: "hours", "on"; empty where both were, or none."""
        if self.said is None or self.said.unknown or self.state != State.STATED:
            return ""
        return "hours" if self.said.hours is None else "on" if self.said.on is None else ""

    @property
    def is_worth_showing(self) -> bool:
        """Whether it is asked, or was said by a person."""
        return self.is_open or self.state in (State.STATED, State.UNKNOWN)

    @property
    def may_be_said(self) -> bool:
        """Whether a person may still say it."""
        return self.state != State.RECORDED


@dataclass
class Sheet:
    """The machines that follow one program, and its tasks that fall due: cells by machine and task."""

    program: ServiceProgram
    machines: "list[StartedMachine]"
    tasks: list[Task] = field(default_factory=list)
    cells: dict[tuple[int, int], Cell] = field(default_factory=dict)

    @property
    def open(self) -> list[Cell]:
        """The cells that nobody has said anything of yet."""
        return [cell for cell in self.cells.values() if cell.is_open]


def sheets(machine_ids: Iterable[int]) -> list[Sheet]:
    """Return what is known of the last work on these machines, by program.

    A task of the daily round, or without hours and months, isn't there. Asks a constant number of queries.
    Needs the organisation's scope.
    """
    machines = sorted(read_machines(machine_ids), key=lambda machine: machine.tag)
    by_type: dict[int, list[StartedMachine]] = defaultdict(list)
    for machine in machines:
        if machine.program_from is not None:
            by_type[machine.type_id].append(machine)
    versions = ProgramVersion.objects.current().filter(program__machine_type__in=by_type)
    duties = _duties(machines)
    found = []
    for version in versions.select_related("program").prefetch_related(
        "tasks__intervals", "tasks__needs", "tasks__without"
    ):
        group = by_type[version.program.machine_type_id]
        sheet = Sheet(version.program, group)
        for task in version.tasks.all():
            asked = as_program_task(task, version.program_id)
            cells = {
                (machine.pk, task.pk): cell
                for machine in group
                if (cell := _cell(machine, asked, task, duties)) is not None
            }
            if cells:
                sheet.tasks.append(task)
                sheet.cells |= cells
        if sheet.cells:
            found.append(sheet)
    return sorted(found, key=lambda sheet: sheet.machines[0].tag)


def open_cells() -> list[Cell]:
    """Return the cells of all machines in service that nobody has said anything of yet.

    Needs the organisation's scope.
    """
    machines = Machine.objects.in_service().values_list("pk", flat=True)
    return [cell for sheet in sheets(machines) for cell in sheet.open]


def _duties(machines: "Iterable[StartedMachine]") -> Mapping[Key, "RecordedDuty"]:
    """The duties of these machines by what they are of, each with what was said of it; the newest last."""
    on_order = Line.objects.filter(duty=OuterRef("pk"), open=False, outcome__in=Line.MEETS_THE_MARK)
    rows = (
        Duty.objects.filter(machine__in=[machine.pk for machine in machines])
        .select_related("task__version")
        .prefetch_related("statements")
        .annotate(is_recorded=Exists(on_order))
        .order_by("active", "task__version__number", "pk")
    )
    return {(duty.machine_id, duty.task.version.program_id, duty.task.code): duty for duty in rows}


def _cell(
    machine: "StartedMachine", asked: ProgramTask, task: Task, duties: Mapping[Key, "RecordedDuty"]
) -> Cell | None:
    fitments = {fitment.pk for fitment in machine.fitted}
    rule = asked.rule_for(machine, fitments, departures(machine.departs))
    if rule is None:
        return None
    duty = duties.get((machine.pk, asked.program_id, asked.code))
    assert machine.program_from is not None  # only machines with a program are asked for
    start = Start(machine.in_service_on, machine.hours_at_start, machine.today(machine.program_from))
    said = next(iter(duty.statements.all()), None) if duty else None
    return Cell(
        machine, task, rule, _state(rule, start, duty, said), duty, said, is_over=_is_long_over(rule, start)
    )


def _state(rule: Rule, start: Start, duty: "RecordedDuty | None", said: LastDone | None) -> State:
    if duty and (duty.is_recorded or (duty.last_on and said is None)):
        return State.RECORDED
    if said is not None:
        return State.UNKNOWN if said.unknown else State.STATED
    was_due = may_have_been_done(
        rule, in_service_on=start.in_service_on, hours_at_start=start.hours, from_on=start.on
    )
    return State.ASKED if was_due else State.NEW


def _is_long_over(rule: Rule, start: Start) -> bool:
    """Whether a machine came with twice the hours, or months, at which a once-only task was due."""
    by_hours = rule.first_hours is not None and start.hours >= 2 * rule.first_hours
    by_months = (
        rule.first_months is not None and add_months(start.in_service_on, 2 * rule.first_months) <= start.on
    )
    return rule.once and (by_hours or by_months)
