"""The grid of last work: a cell for each task of each machine, as it is typed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.models import Machine
from fleet.usage.figures import marked
from servicing.last_done.asked import Cell, Sheet, State
from servicing.last_done.listed import Place
from servicing.last_done.say import Statement
from servicing.last_done.typed import read_cell
from servicing.models import Task

ACROSS = 5  # machines beside each other


@dataclass
class Entry:
    """One cell on the page: what stands in it, and what is wrong with that."""

    cell: Cell
    typed: str
    wrong: str = ""

    @property
    def is_shown(self) -> bool:
        """Whether there is anything to ask or to show."""
        return bool(self.cell.is_worth_showing or self.typed or self.wrong)

    @property
    def name(self) -> str:
        """What its input is called."""
        return f"c-{self.cell.machine.pk}-{self.cell.task.pk}"


@dataclass
class Table:
    """A program's tasks, each with the entries of some of its machines; None where a task isn't one's."""

    sheet: Sheet
    machines: Sequence[Machine]
    rows: Sequence[tuple[Task, Sequence[Entry | None]]]


@dataclass
class Grid:
    """Every entry of some sheets. typed: what was sent or listed, by place; else what was said before."""

    sheets: Sequence[Sheet]
    order: str
    typed: Mapping[Place, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.entries = {
            place: Entry(cell, self.typed.get(place, written(cell)))
            for sheet in self.sheets
            for place, cell in sheet.cells.items()
        }

    @classmethod
    def sent(cls, sheets: Sequence[Sheet], data: Mapping[str, str], order: str) -> "Grid":
        """The grid as a page sent it."""
        grid = cls(sheets, order)
        for entry in grid.entries.values():
            if entry.cell.may_be_said and entry.name in data:
                entry.typed = " ".join(data[entry.name].split())
        return grid

    def fill(self, cells: Mapping[Place, str]) -> None:
        """Put what a list says into the cells."""
        for place, text in cells.items():
            self.entries[place].typed = text

    def rest_unknown(self) -> None:
        """Let every cell that is asked and still empty say that nobody knows."""
        for entry in self.entries.values():
            if entry.cell.is_open and not entry.typed:
                entry.typed = "?"

    def read(self) -> list[Statement]:
        """Return what the cells say; those that can't be read say so themselves."""
        said = []
        for entry in self.entries.values():
            if not entry.cell.may_be_said or entry.typed == written(entry.cell):
                continue
            try:
                meant = read_cell(entry.typed, self.order)
            except FleetError as error:
                entry.wrong = error.sentence
                continue
            if meant is not None:
                said.append(Statement(entry.cell, meant))
            elif entry.cell.state in (State.STATED, State.UNKNOWN):
                entry.wrong = _("It can't be emptied. Write ? if nobody knows.")
        return said

    def mark_wrong(self, statements: Sequence[Statement], wrong: Mapping[int, FleetError]) -> None:
        """Show beside their cells what can't be so."""
        for place, error in wrong.items():
            cell = statements[place].cell
            self.entries[cell.machine.pk, cell.task.pk].wrong = error.sentence

    @property
    def wrong(self) -> list[Entry]:
        """The cells with something wrong."""
        return [entry for entry in self.entries.values() if entry.wrong]

    @property
    def tables(self) -> list[Table]:
        """The entries as they stand on the page, a few machines beside each other."""
        found = []
        for sheet in self.sheets:
            shown = {place for place in sheet.cells if self.entries[place].is_shown}
            asked = [machine for machine in sheet.machines if any(machine.pk == of for of, _task in shown)]
            for start in range(0, len(asked), ACROSS):
                machines = asked[start : start + ACROSS]
                rows = [
                    (task, [self.entries.get((machine.pk, task.pk)) for machine in machines])
                    for task in sheet.tasks
                    if any((machine.pk, task.pk) in shown for machine in machines)
                ]
                found.append(Table(sheet, machines, rows))
        return found


def written(cell: Cell) -> str:
    """What was said of a cell, as it can be read again."""
    said = cell.said
    if said is None or cell.state not in (State.STATED, State.UNKNOWN):
        return ""
    if said.unknown:
        return "?"
    hours = [] if said.hours is None else [f"{marked(_plain(said.hours))} h"]
    return " ".join([*hours, *([said.on.isoformat()] if said.on else [])])


def _plain(hours: Decimal) -> str:
    return f"{hours.normalize():f}"
