"""A list of last work, pasted or from a file: one line a task of a machine, or machines across or down.

What it says is put into cells as it was typed; whoever shows them says what of it can't be read.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from io import StringIO
from itertools import islice
from pathlib import Path

from django.utils.translation import gettext as _

from fleet.core.csv_reader import Unreadable, first_rows, records, separator_of
from fleet.core.errors import FleetError
from fleet.imports.fleet import Fleet, Known
from fleet.imports.months import folded
from fleet.imports.small_file import small_table
from fleet.imports.table import Table, as_text, open_table
from fleet.usage.figures import how_many
from servicing.last_done.asked import Cell, Sheet

LARGEST = 200_000  # characters
MOST_ROWS = 3000
Place = tuple[int, int]
"""A machine and a task, by their ids."""


@dataclass
class Listed:
    """What a list says of which cells, and its lines that couldn't be placed, each with the reason."""

    cells: dict[Place, str] = field(default_factory=dict)
    unplaced: list[str] = field(default_factory=list)


def rows_of(text: str) -> list[list[str]]:
    """Return the cells of a pasted list, or of a CSV's text, line by line. Raises FleetError."""
    if len(text) > LARGEST:
        raise FleetError(_("That is too long; send it in parts."))
    separator = separator_of(first_rows(text), among="\t;|,")
    try:
        found = records(StringIO(text, newline=""), separator=separator, longest=len(text) or 1)
        rows = [[" ".join(cell.split()) for cell in cells] for _begins, _ends, cells in found]
    except Unreadable as error:
        raise FleetError(_("The list {reason}.").format(reason=error)) from None
    if len(rows) > MOST_ROWS:
        raise FleetError(_("A list may have {most} lines at most.").format(most=how_many(MOST_ROWS)))
    return rows


def rows_of_file(path: Path, name: str) -> list[list[str]]:
    """Return the cells of a CSV file or of the first sheet of an XLSX, line by line. Raises FleetError."""
    return _cells(open_table(path, name))


def rows_sent(sent: bytes, name: str) -> list[list[str]]:
    """Return the same of a small file that a page was sent. Raises FleetError."""
    large = _("The file is larger than 1 MB, far more than a table needs. Is it the right file?")
    with small_table(sent, name, too_large=large, too_full=_("That is too long; send it in parts.")) as table:
        return _cells(table)


def _cells(table: Table) -> list[list[str]]:
    rows = [[as_text(cell) for cell in row.cells] for row in islice(table.rows(), MOST_ROWS + 1)]
    if len(rows) > MOST_ROWS:
        raise FleetError(_("A list may have {most} lines at most.").format(most=how_many(MOST_ROWS)))
    return rows


def read_list(rows: Sequence[Sequence[str]], sheets: Iterable[Sheet]) -> Listed:
    """Place what the rows of a list say in the cells of these sheets."""
    return _Reader(sheets).read([[cell.strip() for cell in row] for row in rows])


class _Reader:
    def __init__(self, sheets: Iterable[Sheet]) -> None:
        sheets = list(sheets)
        machines = [machine for sheet in sheets for machine in sheet.machines]
        self.fleet = Fleet(Known(machine.pk, machine.tag, machine.serial) for machine in machines)
        self.tags = {machine.pk: machine.tag for machine in machines}
        self.cells: dict[int, list[Cell]] = defaultdict(list)
        for sheet in sheets:
            for cell in sheet.cells.values():
                self.cells[cell.machine.pk].append(cell)
        self.titles = {_words(cell.task.title) for cells in self.cells.values() for cell in cells}
        self.found = Listed()

    def read(self, rows: Sequence[Sequence[str]]) -> Listed:
        numbered = [(line, row) for line, row in enumerate(rows, start=1) if any(row)]
        if not numbered:
            return self.found
        head = next((at for at, (_line, row) in enumerate(numbered) if self._is_heading(row)), None)
        if head is None:
            self._one_a_line(numbered)
        else:
            self._matrix(numbered[head][1], numbered[head + 1 :])
        return self.found

    def _is_heading(self, row: Sequence[str]) -> bool:
        """Whether it names machines, or tasks, across: two at least, or one beside an empty corner."""
        least = 1 if row and not row[0] else 2
        machines = sum(self._machine(cell) is not None for cell in row[1:])
        tasks = sum(self._is_task(cell) for cell in row[1:])
        return max(machines, tasks) >= least

    def _matrix(self, head: Sequence[str], rows: Iterable[tuple[int, Sequence[str]]]) -> None:
        across = [self._machine(cell) for cell in head]
        machines_across = sum(each is not None for each in across[1:]) >= sum(map(self._is_task, head[1:]))
        for line, row in rows:
            for column, text in enumerate(row[1:], start=1):
                if not text:
                    continue
                heading = head[column] if column < len(head) else ""
                machine, task = (heading, row[0]) if machines_across else (row[0], heading)
                self._put(line, machine, task, text)

    def _one_a_line(self, rows: Sequence[tuple[int, Sequence[str]]]) -> None:
        for at, (line, row) in enumerate(rows):
            machine = next((place for place, cell in enumerate(row) if self._machine(cell) is not None), None)
            if machine is None:
                if at or any(re.search(r"\d", cell) for cell in row):
                    self._say(line, _("no machine of ours is named"), row)
                continue
            rest = [cell for place, cell in enumerate(row) if place != machine and cell]
            named = [cell for cell in rest if self._tasks(row[machine], cell)]
            task = named[0] if named else (rest[0] if rest else "")
            text = " ".join(cell for cell in rest if cell is not task)
            self._put(line, row[machine], task, text)

    def _put(self, line: int, machine: str, task: str, text: str) -> None:
        pk = self._machine(machine)
        said = [machine, task, text]
        if pk is None:
            self._say(line, _("no machine of ours is named"), said)
            return
        meant = self._tasks(machine, task)
        if not meant:
            self._say(line, _("{machine} has no such task").format(machine=self.tags[pk]), said)
        elif len(meant) > 1:
            titles = ", ".join(f"“{cell.task.title}”" for cell in meant[:4])
            self._say(line, _("it can be {titles}").format(titles=titles), said)
        elif not text:
            self._say(line, _("neither hours nor a day"), said)
        elif not meant[0].may_be_said:
            self._say(line, _("an order has recorded this work"), said)
        elif self.found.cells.setdefault((pk, meant[0].task.pk), text) != text:
            self._say(line, _("it says something else than a line above"), said)

    def _machine(self, name: str) -> int | None:
        machine = self.fleet.find(name)
        return None if machine is None else machine.pk

    def _is_task(self, text: str) -> bool:
        words = _words(text)
        return bool(words) and any(words <= title for title in self.titles)

    def _tasks(self, machine: str, text: str) -> list[Cell]:
        """The tasks of a machine that a name can mean: the one called so, else those with all its words."""
        pk, words = self._machine(machine), _words(text)
        if pk is None or not words:
            return []
        exactly = [cell for cell in self.cells[pk] if _words(cell.task.title) == words]
        return exactly or [cell for cell in self.cells[pk] if words <= _words(cell.task.title)]

    def _say(self, line: int, reason: str, row: Sequence[str]) -> None:
        text = " ".join(cell for cell in row if cell)
        said = _("Line {line}, {text}: {reason}.")
        self.found.unplaced.append(said.format(line=how_many(line), text=f"“{text[:80]}”", reason=reason))


def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"[^\W_]+", folded(text))) if re.search(r"[^\W\d_]", text) else frozenset()
