"""How a file is read: which column holds what, how days and figures are written, and what was answered."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.imports.cell_days import Days
from fleet.imports.layout import Layout
from fleet.imports.table import Cell, FileRow, as_text

NEEDED = ("machine", "taken_at", "hours")
ROLES = (*NEEDED, "time", "minutes", "note")
YEAR, WITHIN, ABOVE, FIRST = (
    "year",
    "within",
    "above",
    "first",
)  # what may be asked besides columns, order and decimal mark


@dataclass(frozen=True, slots=True)
class Plan:
    """How a file is read. Columns count from 0; None: there is none.

    order, decimal: '' while the file doesn't tell and a person has to. asks: what else a person has to say:
    the YEAR of days that name none, which day WITHIN a month or year is meant, whether a blank day or machine
    is the one ABOVE ("yes" or "no"), and that machines' FIRST readings are those of their meters. between:
    columns of which more than one may be the meter. against: those headed as hours that don't go on from what
    the machines showed. unit: the column that says of each row what it counts. mixed: some days are written
    the other way round.
    """

    machine: int | None
    taken_at: int | None
    hours: int | None
    time: int | None = None
    note: int | None = None
    heading: bool = True
    order: str = ""
    decimal: str = ""
    minutes: int | None = None
    tenths: int | None = None
    unit: int | None = None
    year: int | None = None
    within: str = ""
    above: str = ""
    mixed: bool = False
    first: bool = False
    asks: tuple[str, ...] = ()
    between: tuple[int, ...] = ()
    against: tuple[int, ...] = ()
    layout: Layout | None = None

    @classmethod
    def kept(cls, values: dict[str, Any]) -> "Plan":
        """Return the plan that was kept as JSON."""
        layout = values.get("layout")
        return cls(
            **values
            | {
                "asks": tuple(values.get("asks", ())),
                "between": tuple(values.get("between", ())),
                "against": tuple(values.get("against", ())),
                "layout": Layout.kept(layout) if layout else None,
            }
        )

    def to_keep(self) -> dict[str, Any]:
        """Return the plan as JSON can hold it."""
        return asdict(self)

    @property
    def days(self) -> Days:
        """How its days are written."""
        return Days(self.order, self.year, self.within, self.mixed)

    @property
    def columns(self) -> tuple[int | None, ...]:
        """What its habits were learned from."""
        return self.machine, self.taken_at, self.hours

    @property
    def open(self) -> list[str]:
        """What is still to be said before anything can be shown, by the names of the fields."""
        found = self.missing()
        found += ["order"] * (not self.order) + ["decimal"] * (not self.decimal)
        found += [YEAR] * (YEAR in self.asks and self.year is None)
        found += [WITHIN] * (WITHIN in self.asks and not self.within)
        return found + [ABOVE] * (ABOVE in self.asks and not self.above)

    def unit_of(self, row: FileRow) -> Cell:
        """What a row says that it counts; None where that column was chosen for something else."""
        used = (self.machine, self.taken_at, self.hours, self.time, self.note, self.minutes, self.tenths)
        return None if self.unit in used else self.cell(row, "unit")

    def cell(self, row: FileRow, role: str) -> Cell:
        """The row's cell in the column of that role; None where there is none."""
        place = getattr(self, role)
        return row.cells[place] if place is not None and place < len(row.cells) else None

    def parts(self, row: FileRow) -> dict[str, Cell]:
        """What the row holds of an hour in columns of their own."""
        return {"minutes": self.cell(row, "minutes"), "tenths": self.cell(row, "tenths")}

    def missing(self) -> list[str]:
        """The columns that are needed and not named."""
        return [role for role in NEEDED if getattr(self, role) is None]

    def with_columns(self, chosen: Mapping[str, int | None]) -> "Plan":
        """The same with other columns, by role."""
        return Plan.kept(self.to_keep() | dict(chosen))

    def confirmed(self) -> "Plan":
        """The same with first readings confirmed."""
        return replace(self, first=True)


def headings(sample: Sequence[FileRow], plan: Plan) -> list[str]:
    """Name every column: by its heading, else by its place."""
    width = max((len(row.cells) for row in sample), default=0)
    names = []
    for column in range(width):
        said = as_text(sample[0].cells[column]) if plan.heading and column < len(sample[0].cells) else ""
        names.append(said or _("Column {number}").format(number=column + 1))
    return names


def strict(plan: Plan, name: str, names: Sequence[str] = ()) -> Plan:
    """Return the plan if nothing is left to ask. Raises FleetError that names what is, on its field.

    names: the headings, for a question about columns.
    """
    if plan.hours is None and len(plan.between) > 1 and plan.missing() == ["hours"]:
        said = _("More than one column of {name} may be the hour meter: {columns}.")
        columns = ", ".join(f"“{names[place]}”" for place in plan.between if place < len(names))
        raise FleetError(said.format(name=name, columns=columns), field="hours")
    if missing := plan.missing():
        said = _("{name} has no column that is certain to be {missing}; name it.")
        raise FleetError(said.format(name=name, missing=", ".join(missing)), field=missing[0])
    if not plan.order:
        said = (
            _("{name} has dates with the day first beside dates with the month first.")
            if plan.mixed
            else _("{name} doesn't show whether the day or the month comes first in its dates.")
        )
        raise FleetError(said.format(name=name), field="order")
    if not plan.decimal:
        said = _("{name} doesn't show whether its hours have a decimal point or a comma.")
        raise FleetError(said.format(name=name), field="decimal")
    if YEAR in plan.open:
        raise FleetError(_("{name} has dates without a year.").format(name=name), field=YEAR)
    if WITHIN in plan.open:
        said = _("{name} names months or years without a day.")
        raise FleetError(said.format(name=name), field=WITHIN)
    if ABOVE in plan.open:
        raise FleetError(
            _("{name} has rows that leave the day or the machine blank.").format(name=name), field=ABOVE
        )
    if FIRST in plan.asks and not plan.first:
        said = _(
            "{name} has machines without any reading yet. Confirm that the figures are those of their meters."
        )
        raise FleetError(said.format(name=name), field=FIRST)
    return plan
