"""What a version of a program would do to duties if it were applied now."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from django.db.models import Q
from django.utils import timezone

from fleet.models import Machine
from fleet.usage.days import date_of
from servicing.duties import duty_table
from servicing.duties.applicability import tasks_of
from servicing.duties.duty_table import hours_of
from servicing.duties.machines import read_machines
from servicing.duties.next_due import bring_forward, open_marks
from servicing.models import ProgramVersion, Task
from servicing.planning.intervals import Mark


@dataclass(frozen=True, slots=True)
class Move:
    """What a version of a program does to one duty: its mark before and after. None: there is no duty."""

    machine: Machine
    title: str
    before: Mark | None
    after: Mark | None

    @property
    def is_new(self) -> bool:
        """Whether the machine did not have to do this before."""
        return self.before is None

    @property
    def is_ended(self) -> bool:
        """Whether the machine no longer has to do this."""
        return self.after is None

    @property
    def is_overdue(self) -> bool:
        """Whether the new mark has been reached already."""
        return self.after is not None and self.after.is_reached(self.machine.hours, self.machine.today())


def preview_moves(*, version: ProgramVersion, now: datetime | None = None) -> list[Move]:
    """Return how marks would move if this version were applied now, by machine; nothing is written.

    Worked out as `refresh_duties` does it. Duties whose mark stays are left out.
    """
    now = now or timezone.now()
    kind = version.program.machine_type_id
    machines = read_machines(Machine.objects.in_service().filter(type=kind).values_list("pk", flat=True))
    if not ProgramVersion.objects.filter(program=version.program).exclude(pk=version.pk).exists():
        for machine in machines:  # its first version: the machines come under the program by applying it
            machine.program_from = now
            machine.hours_at_start = max(machine.hours_at_start, machine.hours)
    rows = duty_table.read([machine.pk for machine in machines])
    asked = open_marks(machines, rows, tasks_of(ProgramVersion.objects.filter(pk=version.pk)))
    bring_forward(asked, machines, now)
    titles = dict(
        Task.objects.filter(
            Q(version=version) | Q(pk__in=set(rows["task"].astype(int).tolist()))
        ).values_list("pk", "title")
    )
    of = {machine.pk: machine for machine in machines}
    after = {int(at): place for place, at in enumerate(asked.row) if at >= 0}
    moves = [
        Move(
            of[int(rows["machine"][at])],
            titles[int(asked.task[place] if place is not None else rows["task"][at])],
            _mark(rows["mark_hours"][at], rows["mark_on"][at]),
            None if place is None else _mark(asked.hours[place], asked.on[place]),
        )
        for at in range(len(rows["id"]))
        for place in [after.get(at)]
    ]
    moves += [
        Move(
            of[int(asked.machine[at])],
            titles[int(asked.task[at])],
            None,
            _mark(asked.hours[at], asked.on[at]),
        )
        for at in np.flatnonzero(asked.row < 0).tolist()
    ]
    moved = [move for move in moves if move.before != move.after]
    return sorted(moved, key=lambda move: (move.machine.tag, move.is_ended, move.title))


def _mark(hours: float, on: float) -> Mark | None:
    mark = Mark(hours_of(hours), date_of(on))
    return None if mark == Mark() else mark
