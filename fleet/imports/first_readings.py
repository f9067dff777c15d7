"""Machines that a file gives their first readings: some rows of each, for a picture before any counts."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from fleet.imports.column_mapping import figures, machine_of
from fleet.imports.evidence import weigh
from fleet.imports.fleet import Fleet, Known
from fleet.imports.plan import Plan
from fleet.imports.table import FileRow, as_text

MOST_MACHINES = 25  # of which rows are kept
MOST_ROWS = 12  # of a machine


@dataclass(frozen=True, slots=True)
class Course:
    """What would count of a machine that has no reading yet, in time order. falls: not all can be true."""

    machine: str
    points: list[tuple[datetime, Decimal]]
    falls: bool


class Firsts:
    """Rows of machines without any reading: of each the first, the last, and some in between."""

    def __init__(self) -> None:
        self._kept: dict[Known, list[FileRow]] = {}
        self._last: dict[Known, FileRow] = {}
        self._step: dict[Known, int] = defaultdict(lambda: 1)
        self._seen: dict[Known, int] = defaultdict(int)

    @property
    def any(self) -> bool:
        """Whether there is any such machine."""
        return bool(self._kept)

    def hear(self, plan: Plan, row: FileRow, fleet: Fleet) -> None:
        """Take a row into account."""
        name = as_text(plan.cell(row, "machine"))
        machine = machine_of(plan, name, fleet) if name and not row.wrong else None
        if machine is None or machine.last_at is not None:
            return
        if machine not in self._kept and len(self._kept) >= MOST_MACHINES:
            return
        rows = self._kept.setdefault(machine, [])
        if self._seen[machine] % self._step[machine] == 0:
            rows.append(row)
        self._seen[machine] += 1
        self._last[machine] = row
        if len(rows) > MOST_ROWS:
            del rows[1::2]
            self._step[machine] *= 2

    def rows(self) -> list[FileRow]:
        """The rows, machine by machine."""
        found = []
        for machine, rows in self._kept.items():
            last = self._last[machine]
            found += rows if rows[-1] is last else [*rows, last]
        return found


def courses(plan: Plan, rows: Sequence[FileRow], fleet: Fleet) -> list[Course]:
    """What these rows would have counted of machines without any reading, each in time order."""
    found = defaultdict(list)
    for figure in figures(replace(plan, first=True), rows, fleet):
        if isinstance(figure.machine, Known) and figure.machine.last_at is None:
            found[figure.machine].append(figure)
    return [
        Course(
            machine.tag,
            sorted((figure.at, figure.shows) for figure in course),
            weigh(course).rising < weigh(course).steps,
        )
        for machine, course in found.items()
    ]
