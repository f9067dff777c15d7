"""Which tasks of the current programs a machine has to have done, and by which rule."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, fields

from django.db.models import QuerySet

from fleet.models import Machine
from servicing.models import Interval, ProgramVersion, Task, TaskOverride
from servicing.planning.intervals import Rule, choose
from servicing.planning.override_rule import departed

RULE_FIELDS = [field.name for field in fields(Rule)]
Departures = Mapping[tuple[int, str], TaskOverride]
"""One machine's overrides, by program and code of the task."""


@dataclass(frozen=True, slots=True)
class ProgramTask:
    """A task of a current program version, with what decides whether and when a machine needs it."""

    pk: int
    code: str
    program_id: int
    needs: frozenset[int]
    without: frozenset[int]
    rules: Mapping[str, Rule]

    def rule_for(
        self, machine: Machine, fitments: Collection[int], departures: Departures | None = None
    ) -> Rule | None:
        """Return the rule of the duty a machine with these fitments has; None: no duty comes of it.

        None comes of a task that isn't for the machine, nor of one on its daily round: that would be past its
        mark every evening, and is the operator's before the day's start.
        """
        rule = self._rule(machine, fitments, departures)
        return None if rule is None or rule.is_daily else rule

    def is_daily_for(
        self, machine: Machine, fitments: Collection[int], departures: Departures | None = None
    ) -> bool:
        """Whether it belongs to the daily round of a machine with these fitments."""
        rule = self._rule(machine, fitments, departures)
        return rule is not None and rule.is_daily

    def _rule(
        self, machine: Machine, fitments: Collection[int], departures: Departures | None
    ) -> Rule | None:
        if not self.needs.issubset(fitments) or not self.without.isdisjoint(fitments):
            return None
        rule = choose(self.rules, machine.condition)
        return _depart(rule, (departures or {}).get((self.program_id, self.code)))


def rule_of(interval: Interval) -> Rule:
    """Return the rule that an interval's row holds."""
    return Rule(**{name: getattr(interval, name) for name in RULE_FIELDS})


def rule_for(task: Task, machine: Machine) -> Rule | None:
    """Return the rule of a task on one machine, its departure from the program counted in; None: never due.

    For many, prefetch the tasks' `version` and `intervals` and the machines' `overrides`.
    """
    rule = choose({each.condition: rule_of(each) for each in task.intervals.all()}, machine.condition)
    return _depart(rule, departures_of(machine).get((task.version.program_id, task.code)))


def departures_of(machine: Machine) -> Departures:
    """Return the machine's overrides as `ProgramTask.rule_for` takes them; prefetch `overrides` for many."""
    return departures(machine.overrides.all())


def departures(overrides: Iterable[TaskOverride]) -> Departures:
    """Return one machine's overrides by program and code of the task."""
    return {(each.program_id, each.task_code): each for each in overrides}


def _depart(rule: Rule | None, departure: TaskOverride | None) -> Rule | None:
    if rule is None or departure is None:
        return rule
    if departure.left_out:
        return None
    return departed(rule, every_hours=departure.every_hours, every_months=departure.every_months)


def daily_round(machine: Machine) -> list[Task]:
    """Return the tasks an operator does on this machine before each day's work, in the program's order."""
    fitments, departures = {fitment.pk for fitment in machine.fitments.all()}, departures_of(machine)
    tasks = tasks_by_type([machine.type_id]).get(machine.type_id, [])
    daily = [each.pk for each in tasks if each.is_daily_for(machine, fitments, departures)]
    return list(Task.objects.filter(pk__in=daily))


def on_occasion(machine: Machine) -> list[Task]:
    """Return the tasks of this machine that no hours and no months call for, in the program's order."""
    fitments = {fitment.pk for fitment in machine.fitments.all()}
    left_out = {(each.program_id, each.task_code) for each in machine.overrides.all() if each.left_out}
    current = ProgramVersion.objects.current().filter(program__machine_type=machine.type_id)
    tasks = Task.objects.filter(version__in=current, intervals=None).exclude(occasion="")
    return [
        task
        for task in tasks.select_related("version").prefetch_related("needs", "without")
        if fitments.issuperset(each.pk for each in task.needs.all())
        and fitments.isdisjoint(each.pk for each in task.without.all())
        and (task.version.program_id, task.code) not in left_out
    ]


def tasks_by_type(type_ids: Collection[int]) -> dict[int, list[ProgramTask]]:
    """Return the tasks of the current program of each machine type; five queries, however many tasks."""
    return tasks_of(ProgramVersion.objects.current().filter(program__machine_type__in=type_ids))


class Programs:
    """The tasks of current programs by machine type, each read once."""

    def __init__(self) -> None:
        self._tasks: dict[int, list[ProgramTask]] = {}

    def of(self, type_ids: Iterable[int]) -> Mapping[int, list[ProgramTask]]:
        """Return the tasks of these types, as `tasks_by_type`, and those of types asked for before."""
        new = set(type_ids) - self._tasks.keys()
        if new:
            self._tasks |= {kind: [] for kind in new} | tasks_by_type(new)
        return self._tasks


def tasks_of(versions: QuerySet[ProgramVersion]) -> dict[int, list[ProgramTask]]:
    """Return the tasks of these versions by machine type, as if each were the current one of its program."""
    found: dict[int, list[ProgramTask]] = defaultdict(list)
    for version in versions.select_related("program").prefetch_related(
        "tasks__intervals", "tasks__needs", "tasks__without"
    ):
        found[version.program.machine_type_id] = [
            as_program_task(task, version.program_id) for task in version.tasks.all()
        ]
    return found


def as_program_task(task: Task, program_id: int) -> ProgramTask:
    """Return what decides whether a machine needs the task; prefetch `intervals`, `needs` and `without`."""
    return ProgramTask(
        pk=task.pk,
        code=task.code,
        program_id=program_id,
        needs=frozenset(fitment.pk for fitment in task.needs.all()),
        without=frozenset(fitment.pk for fitment in task.without.all()),
        rules={each.condition: rule_of(each) for each in task.intervals.all()},
    )
