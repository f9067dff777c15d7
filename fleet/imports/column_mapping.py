"""Which column holds what: guessed from headings and contents, for a person to confirm."""

import re
from collections.abc import Callable, Collection, Iterable, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from datetime import UTC
from typing import Any

from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.core.number_reader import COMMA, POINT
from fleet.imports.cell_values import DAY_FIRST, MONTH_FIRST, Wrong, read_moment, read_number
from fleet.imports.table import Cell, FileRow, as_text

NEEDED = ("machine", "taken_at", "hours")
HEADINGS = {
    "machine": "machine, unit, tag, asset, equipment, serial, serial number, serialnumber, machine id, "
    "equipment id, equipmentid, fleet number, fleet no, vehicle, maschine, gerät, máquina, maquina, engin, "
    "macchina",
    "taken_at": "taken at, date, day, read on, read at, reading date, date and time, timestamp, when, datum, "
    "fecha, data, date de relevé",
    "hours": "hours, hour meter, meter, meter reading, engine hours, running hours, shows, reading, h, "
    "stunden, betriebsstunden, horas, heures, ore",
    "time": "time, clock, time of day, uhrzeit, hora, heure, ora",
    "note": "note, notes, remark, remarks, comment, comments, bemerkung, nota, remarque",
}
WORDS = {role: set(words.split(", ")) for role, words in HEADINGS.items()}
IGNORED = {"line", "reason", "zeile", "grund"}  # what a file of rejected rows adds, in any language
MOST_HEARD = 50_000  # different cells by which a habit is told
HEADED, ENOUGH = 1.0, 0.6  # what a heading's word is worth, beside the share of cells that can be read as it


@dataclass(frozen=True, slots=True)
class Plan:
    """How a file is read. Columns count from 0; None: there is none.

    order, decimal: '' while the file doesn't tell and a person has to.
    """

    machine: int | None
    taken_at: int | None
    hours: int | None
    time: int | None = None
    note: int | None = None
    heading: bool = True
    order: str = ""
    decimal: str = ""

    @classmethod
    def kept(cls, values: dict[str, Any]) -> "Plan":
        """Return the plan that was kept as JSON."""
        return cls(**values)

    def to_keep(self) -> dict[str, Any]:
        """Return the plan as JSON can hold it."""
        return asdict(self)

    def cell(self, row: FileRow, role: str) -> Cell:
        """The row's cell in the column of that role; None where there is none."""
        place = getattr(self, role)
        return row.cells[place] if place is not None and place < len(row.cells) else None

    def missing(self) -> list[str]:
        """The columns that are needed and not named."""
        return [role for role in NEEDED if getattr(self, role) is None]


def guess(sample: Sequence[FileRow], *, known: Collection[str], habit: str = "") -> Plan:
    """Guess how a file is read from its first rows.

    known: names of machines in lower case. habit: the order of day and month that the organisation uses,
    taken where the dates don't tell.
    """
    width = max(len(row.cells) for row in sample)
    heads = [_head(sample[0], column) for column in range(width)]
    heading = _is_heading(sample[0], heads)
    body = [[row.cells[n] if n < len(row.cells) else None for row in sample[heading:]] for n in range(width)]
    scores = {
        role: [
            (HEADED if heads[n] in WORDS[role] and heading else 0.0) + _share(role, column, known)
            for n, column in enumerate(body)
        ]
        for role in WORDS
    }
    taken: dict[str, int] = {}
    pairs = sorted(
        ((score, role, n) for role, row in scores.items() for n, score in enumerate(row)),
        key=lambda pair: (-pair[0], list(WORDS).index(pair[1]), pair[2]),
    )
    for score, role, column in pairs:
        if role in taken or column in taken.values() or (heading and heads[column] in IGNORED):
            continue
        if score >= (ENOUGH if role in NEEDED else HEADED):
            taken[role] = column
    plan = Plan(
        machine=taken.get("machine"),
        taken_at=taken.get("taken_at"),
        hours=taken.get("hours"),
        time=taken.get("time"),
        note=taken.get("note"),
        heading=heading,
    )
    return learn_habits(plan, sample[heading:], habit=habit)


def headings(sample: Sequence[FileRow], plan: Plan) -> list[str]:
    """Name every column: by its heading, else by its place."""
    width = max((len(row.cells) for row in sample), default=0)
    names = []
    for column in range(width):
        said = as_text(sample[0].cells[column]) if plan.heading and column < len(sample[0].cells) else ""
        names.append(said or _("Column {number}").format(number=column + 1))
    return names


def strict(plan: Plan, name: str) -> Plan:
    """Return the plan if nothing is left to ask. Raises FleetError that names what is."""
    if missing := plan.missing():
        said = _("{name} has no column {missing}; its first line must name {needed}.")
        raise FleetError(said.format(name=name, missing=", ".join(missing), needed=", ".join(NEEDED)))
    if not plan.order:
        said = _("{name} doesn't show whether the day or the month comes first in its dates.")
        raise FleetError(said.format(name=name), field="order")
    if not plan.decimal:
        said = _("{name} doesn't show whether its hours have a decimal point or a comma.")
        raise FleetError(said.format(name=name), field="decimal")
    return plan


class Habit:
    """Which of two ways cells are written in: what one way alone can read tells it."""

    def __init__(self, ways: tuple[str, str], read: Callable[[Cell, str], object]) -> None:
        self._ways, self._read = ways, read
        self._votes = dict.fromkeys(ways, 0)
        self._open = False
        self._heard: set[Cell] = set()

    def hear(self, cell: Cell) -> None:
        """Take a cell into account; one that can't be read either way tells nothing."""
        if cell in (None, "") or cell in self._heard or len(self._heard) > MOST_HEARD:
            return
        self._heard.add(cell)
        found = {}
        for way in self._ways:
            with suppress(Wrong):
                found[way] = self._read(cell, way)
        if len(found) == 1:
            self._votes[next(iter(found))] += 1
        elif len(found) == 2:
            self._open |= found[self._ways[0]] != found[self._ways[1]]

    def told(self, otherwise: str = "") -> str:
        """The way that most cells tell; `otherwise` where none does, unless it makes no difference."""
        if any(self._votes.values()):
            return max(self._ways, key=self._votes.__getitem__)
        return otherwise if self._open else (otherwise or self._ways[0])


def learn_habits(plan: Plan, rows: Iterable[FileRow], *, habit: str = "") -> Plan:
    """Return the plan with the order of dates and the decimal mark that all these rows tell.

    habit: the order that the organisation uses, taken where the dates don't tell. '' stays where a person has
    to say.
    """
    order = Habit((DAY_FIRST, MONTH_FIRST), lambda cell, way: read_moment(cell, None, way, UTC))
    decimal = Habit((POINT, COMMA), read_number)
    for row in rows:
        order.hear(plan.cell(row, "taken_at"))
        decimal.hear(plan.cell(row, "hours"))
    return replace(plan, order=order.told(habit), decimal=decimal.told())


def _head(row: FileRow, column: int) -> str:
    text = as_text(row.cells[column]) if column < len(row.cells) else ""
    return re.sub(r"[\s_\-.:()]+", " ", text).strip().lower()


def _is_heading(row: FileRow, heads: list[str]) -> bool:
    if any(head in words for head in heads for words in WORDS.values()):
        return True
    return not any(_can(cell, "taken_at") or _can(cell, "hours") for cell in row.cells)


def _share(role: str, column: list[Cell], known: Collection[str]) -> float:
    """The share of a column's filled cells that can be of this role."""
    cells = _filled(column)
    if not cells or role in ("note", "time"):
        return 0.0
    if role == "machine":
        return sum(as_text(cell).lower() in known for cell in cells) / len(cells)
    if role == "hours" and sum(as_text(cell).lower() in known for cell in cells) > len(cells) / 2:
        return 0.0  # tags may be numbers
    return sum(_can(cell, role) for cell in cells) / len(cells)


def _can(cell: Cell, role: str) -> bool:
    for way in (DAY_FIRST, MONTH_FIRST) if role == "taken_at" else (POINT, COMMA):
        try:
            read_moment(cell, None, way, UTC) if role == "taken_at" else read_number(cell, way)
        except Wrong:
            continue
        return True
    return False


def _filled(column: list[Cell]) -> list[Cell]:
    return [cell for cell in column if cell not in (None, "")]
