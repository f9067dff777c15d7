"""Which task of which machine falls due at which mark: the program's rules over many machines at once.

What is asked of one machine differs by its type, condition, fitments and departures; most machines share
these with others, and most tasks of a machine share their rule, so each rule is followed once for each
different state of things.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fleet.core.column_arrays import Floats
from fleet.models import Machine
from fleet.usage.days import date_of, number_of
from servicing.duties import value_trends
from servicing.duties.applicability import Departures, ProgramTask, departures
from servicing.duties.duty_table import Rows, hours_of
from servicing.models import Check, Duty, Task
from servicing.planning.intervals import INSPECT_WITHIN, Mark, Rule, first_mark, next_mark

if TYPE_CHECKING:
    from servicing.duties.machines import StartedMachine

WORKED = ("met_hours", "met_on", "last_hours", "last_on")
NOTHING = -1e9  # stands for null where equal states are looked for
Ints = NDArray[np.int64]


@dataclass
class OpenMarks:
    """Columns, one entry for each task that a machine's program asks of it.

    machine, task: ids. row: its place among the duties that are there, -1 for one to be made. hours, on: its
    mark, both NaN where none is left. forward, forward_check, rule_hours: the earlier mark a drifting value
    asks for, the id of the check it is measured by, and the rule's own hours beside it.
    """

    machine: Ints
    row: Ints
    task: Ints
    hours: Floats
    on: Floats
    forward: Floats
    forward_check: Floats
    rule_hours: Floats

    def settable(self) -> dict[str, Floats]:
        """The columns by the names of a duty's fields."""
        return {
            "task": self.task.astype(float),
            "active": (~(np.isnan(self.hours) & np.isnan(self.on))).astype(float),
            "mark_hours": self.hours,
            "mark_on": self.on,
            "forward_hours": self.forward,
            "forward_check": self.forward_check,
            "rule_hours": self.rule_hours,
        }


def open_marks(
    machines: "Sequence[StartedMachine]", rows: Rows, tasks: Mapping[int, Sequence[ProgramTask]]
) -> OpenMarks:
    """Return the mark of every task that holds.

    machines: by `read_machines`. rows: the duties that are there; of several for one task the last holds.
    tasks: what the program asks, by machine type.
    """
    asked = _Asked(tasks)
    plans = [asked.plan(machine) for machine in machines]
    place = np.repeat(np.arange(len(machines)), [len(plan.task) for plan in plans])
    task, rule, key = (
        np.concatenate([np.zeros(0, np.int64), *(getattr(plan, name) for plan in plans)])
        for name in _Plan._fields
    )
    row = _rows_of(machines, rows, place, key, asked)
    hours, on = np.full((2, len(row)), np.nan)
    met = (
        np.array([rows[name] for name in WORKED])[:, row]
        if len(rows["id"])
        else np.full((4, len(row)), np.nan)
    )
    worked = (row >= 0) & ~np.isnan(met[-1])
    began = np.array([_start(machine) for machine in machines], float).reshape(-1, 3)[place].T
    for own, state, follow in ((~worked, began, _first), (worked, met, _next)):
        hours[own], on[own] = _followed(asked.rules, rule[own], state[:, own], follow)
    if len(rows["id"]):
        said = np.where(row >= 0, rows["unknown_on"][row], np.nan)
        on = np.fmin(on, said + INSPECT_WITHIN.days)  # where nobody said so it stays what it is
    kept = (row >= 0) | ~(np.isnan(hours) & np.isnan(on))
    ids = np.array([machine.pk for machine in machines], np.int64)
    none = (np.full(int(kept.sum()), np.nan) for _ in range(3))
    return OpenMarks(ids[place][kept], row[kept], task[kept], hours[kept], on[kept], *none)


def bring_forward(asked: OpenMarks, machines: Sequence[Machine], now: datetime) -> dict[tuple[int, int], str]:
    """Give the tasks whose measured values reach a limit before their mark that earlier mark.

    Returns why, by machine and task.
    """
    measured = Check.objects.filter(task__in=np.unique(asked.task).tolist(), kind__in=Check.NUMERIC)
    own = np.isin(asked.task, list(measured.values_list("task", flat=True)))
    own &= ~(np.isnan(asked.hours) & np.isnan(asked.on))
    of = {machine.pk: machine for machine in machines}
    place = {(int(asked.machine[at]), int(asked.task[at])): int(at) for at in np.flatnonzero(own)}
    duties = [
        (
            of[machine],
            Duty(
                machine_id=machine,
                task_id=task,
                mark_hours=hours_of(float(asked.hours[at])),
                mark_on=date_of(float(asked.on[at])),
            ),
        )
        for (machine, task), at in place.items()
    ]
    earlier = value_trends.forward_marks(duties, now=now) if duties else {}
    for key, forward in earlier.items():
        at = place[key]
        asked.rule_hours[at] = asked.hours[at]
        asked.hours[at] = asked.forward[at] = float(forward.hours)
        asked.forward_check[at] = forward.check
    return {key: forward.reason for key, forward in earlier.items()}


def reworded(rows: Rows, after: Rows, reasons: Mapping[tuple[int, int], str]) -> np.ndarray:
    """Which of the duties there have come forward for a reason that reads otherwise now; a bool array."""
    forward = np.flatnonzero(~np.isnan(rows["forward_hours"]) & ~np.isnan(after["forward_hours"]))
    found = np.zeros(len(rows["id"]), bool)
    if forward.size:
        said = Duty.objects.filter(pk__in=rows["id"][forward].astype(int).tolist())
        words = dict(said.values_list("pk", "forward_reason"))
        for at in forward.tolist():
            key = (int(after["machine"][at]), int(after["task"][at]))
            found[at] = words.get(int(rows["id"][at])) != reasons.get(key)
    return found


class _Plan(NamedTuple):
    """What is asked of a machine, as columns: the task's id, the numbers of its rule and of its key."""

    task: Ints
    rule: Ints
    key: Ints


class _Asked:
    """What the programs ask; machines of one type, condition and fitments share a plan.

    keys: a number for each program and code of a task; rules: those met so far.
    """

    def __init__(self, tasks: Mapping[int, Sequence[ProgramTask]]) -> None:
        self.keys: dict[tuple[int, str], int] = {}
        self.rules: list[Rule] = []
        self._tasks = tasks
        self._number: dict[Rule, int] = {}
        self._plans: dict[object, _Plan] = {}

    def plan(self, machine: "StartedMachine") -> _Plan:
        """What is asked of one machine."""
        fitments = frozenset(fitment.pk for fitment in machine.fitted)
        shared = (machine.type_id, machine.condition, fitments)
        if machine.departs:
            return self._made(machine, fitments, departures(machine.departs))
        if shared not in self._plans:
            self._plans[shared] = self._made(machine, fitments, {})
        return self._plans[shared]

    def _made(self, machine: Machine, fitments: frozenset[int], departing: Departures) -> _Plan:
        asked = [
            (task.pk, self._rule(rule), self.key(task.program_id, task.code))
            for task in self._tasks.get(machine.type_id, ())
            if (rule := task.rule_for(machine, fitments, departing))
        ]
        return _Plan(*np.array(asked, np.int64).reshape(-1, 3).T)

    def key(self, program: int, code: str) -> int:
        """The number of a task's key."""
        return self.keys.setdefault((program, code), len(self.keys))

    def _rule(self, rule: Rule) -> int:
        if rule not in self._number:
            self._number[rule] = len(self.rules)
            self.rules.append(rule)
        return self._number[rule]


def _rows_of(machines: Sequence[Machine], rows: Rows, place: Ints, key: Ints, asked: _Asked) -> Ints:
    """The row of the duty that is there for each machine and key, -1 for none."""
    if not len(rows["id"]) or not len(key):
        return np.full(len(key), -1)
    tasks, of = np.unique(rows["task"], return_inverse=True)
    named = Task.objects.filter(pk__in=tasks.tolist()).values_list("pk", "version__program", "code")
    number = {float(pk): asked.key(program, code) for pk, program, code in named}
    keys = np.array([number[pk] for pk in tasks.tolist()], np.int64)[of]
    ids = np.array([machine.pk for machine in machines], np.int64)
    order = np.argsort(ids)
    places = order[np.searchsorted(ids, rows["machine"].astype(np.int64), sorter=order)]
    there = places * len(asked.keys) + keys
    sorted_ = np.argsort(there, kind="stable")
    wanted = place * len(asked.keys) + key
    last = np.searchsorted(there, wanted, side="right", sorter=sorted_) - 1  # of equal ones the last
    found = sorted_[np.maximum(last, 0)]
    return np.where((last >= 0) & (there[found] == wanted), found, -1)


def _followed(
    rules: Sequence[Rule], rule: Ints, state: Floats, follow: Callable[..., tuple[float, float]]
) -> tuple[Floats, Floats]:
    """Follow each rule once for each different state; the marks' hours and dates."""
    if not len(rule):
        return np.zeros(0), np.zeros(0)
    table = np.ascontiguousarray(np.vstack([rule, np.nan_to_num(state, nan=NOTHING)]).T)
    different, which = np.unique(
        table.view([("", table.dtype)] * table.shape[1]).ravel(), return_inverse=True
    )
    marks = np.array(
        [
            follow(rules[int(number)], *(None if value == NOTHING else value for value in values))
            for number, *values in different.tolist()
        ]
    )
    return marks[which.ravel(), 0], marks[which.ravel(), 1]


def _start(machine: "StartedMachine") -> tuple[float, float, float]:
    """When a machine came into service, its hours when it came under its program, and when that was."""
    if machine.program_from is None:
        return np.nan, np.nan, np.nan
    from_on = machine.today(machine.program_from)
    return number_of(machine.in_service_on), float(machine.hours_at_start), number_of(from_on)


def _first(rule: Rule, in_service_on: float, hours: float, from_on: float) -> tuple[float, float]:
    """The mark of a task with no recorded work: the first after the machine came under the program."""
    start = hours_of(hours) or Decimal(0)
    began, came = date_of(in_service_on), date_of(from_on)
    assert began is not None  # every machine with a program has one
    return _numbers(first_mark(rule, in_service_on=began, hours_at_start=start, from_on=came))


def _next(
    rule: Rule, met_hours: float | None, met_on: float | None, last_hours: float, last_on: float
) -> tuple[float, float]:
    """The mark after the last work."""
    met = Mark(
        None if met_hours is None else hours_of(met_hours), None if met_on is None else date_of(met_on)
    )
    hours, on = hours_of(last_hours), date_of(last_on)
    assert hours is not None
    assert on is not None  # work sets both
    return _numbers(next_mark(rule, met, hours, on))


def _numbers(mark: Mark | None) -> tuple[float, float]:
    if mark is None:
        return np.nan, np.nan
    return (
        np.nan if mark.hours is None else float(mark.hours),
        np.nan if mark.on is None else number_of(mark.on),
    )
