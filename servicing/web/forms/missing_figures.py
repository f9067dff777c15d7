"""The missing figures as they are filled in: one field for each, under the names of what they belong to."""

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from typing import Any

from django import forms
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from fleet.models import Machine, Member
from fleet.web.forms.fields import PlainDecimalField
from fleet.web.forms.house import Form
from servicing.figures.entering import Figures, Place, rows_of
from servicing.figures.missing import RIGHTS, MissingFigures
from servicing.models import Part, Technician

NAME = re.compile(rf"({'|'.join(RIGHTS)})-([1-9][0-9]{{0,17}})")
TITLES = {
    "minutes": gettext_lazy("Labour time of tasks"),
    "costs": gettext_lazy("Cost of parts"),
    "rates": gettext_lazy("Hourly rates"),
    "prices": gettext_lazy("Purchase prices"),
}
WHY = {
    "minutes": gettext_lazy("To plan the day, and to say how much work is coming."),
    "costs": gettext_lazy("For the cost of work, and of what to buy."),
    "rates": gettext_lazy("For the cost of labour."),
    "prices": gettext_lazy("For what repairs should cost, and when to replace. 0 if it cost nothing."),
}


class MinutesField(PlainDecimalField):
    """Whole minutes."""

    default_error_messages = {"invalid": gettext_lazy("Give whole minutes, like 25.")}

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]  # a decimal is no integer
        """Read the number; None when empty."""
        read = super().to_python(value)
        if read is not None and read != int(read):
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid")
        return read


@dataclass(frozen=True)
class Row:
    """One field, what it is for, and what is said beside that."""

    field: forms.BoundField
    name: str
    note: str = ""


@dataclass(frozen=True)
class Group:
    """Rows under a title with its address; both are "" where the section needs none."""

    rows: tuple[Row, ...]
    title: str = ""
    url: str = ""


@dataclass(frozen=True)
class Section:
    """All fields of one kind."""

    kind: str
    title: str
    why: str
    groups: tuple[Group, ...]


class MissingFiguresForm(Form):
    """What is shown as missing, and what was typed for it; whatever is empty stays missing.

    `gone`: places that something was typed for and that aren't in use any more.
    """

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, member: Member, shown: MissingFigures
    ) -> None:
        super().__init__(data)
        self.member, self.shown = member, shown
        self.gone: list[Place] = []
        self._rows: dict[str, dict[int, Any]] = {
            "minutes": {each.task.pk: each.task for each in shown.minutes},
            "costs": {each.part.pk: each.part for each in shown.costs},
            "rates": {each.pk: each for each in shown.rates},
            "prices": {each.pk: each for each in shown.prices},
        }
        self._find_the_others(data or {})
        for kind, rows in self._rows.items():
            for pk, row in rows.items():
                self.fields[name_of((kind, pk))] = self._field(kind, row)

    def figures(self) -> Figures:
        """Return what was typed and could be read."""
        typed: dict[str, dict[int, Any]] = defaultdict(dict)
        for name, value in self.cleaned_data.items():
            if value is not None:
                kind, pk = _place(name)
                typed[kind][pk] = int(value) if kind == "minutes" else value + 0  # no nought below nought
        return Figures(**typed)

    def show(self, sentences: Mapping[Place, str]) -> None:
        """Say beside each field why it is refused; above all where there is no field any more."""
        for place, sentence in sentences.items():
            name = name_of(place)
            self.add_error(name if name in self.fields else None, sentence)

    @property
    def sections(self) -> tuple[Section, ...]:
        """The fields as the page shows them, kind by kind."""
        made = {
            "minutes": tuple(self._programs()),
            "costs": self._group("costs"),
            "rates": self._group("rates"),
            "prices": self._group("prices"),
        }
        return tuple(
            Section(kind, str(TITLES[kind]), str(WHY[kind]), groups)
            for kind, groups in made.items()
            if groups
        )

    def clean(self) -> dict[str, Any]:
        """Say how many were typed for what isn't in use any more."""
        if self.gone:
            number = len(self.gone)
            said = ngettext(
                "{n} figure you typed is for something that isn't in use any more. It is left out below.",
                "{n} figures you typed are for things that aren't in use any more. They are left out below.",
                number,
            )
            self.add_error(None, said.format(n=number))
        return self.cleaned_data

    def _find_the_others(self, data: Mapping[str, Any]) -> None:
        """Add what was typed for something that isn't missing now, or isn't shown yet."""
        typed: dict[str, list[int]] = defaultdict(list)
        for name, value in data.items():
            if NAME.fullmatch(name) and str(value).strip():
                kind, pk = _place(name)
                if pk not in self._rows[kind]:
                    typed[kind].append(pk)
        for kind, ids in typed.items():
            self._rows[kind] |= {row.pk: row for row in rows_of(kind, ids)}
            self.gone += [(kind, pk) for pk in ids if pk not in self._rows[kind]]

    def _field(self, kind: str, row: Any) -> forms.Field:
        if kind == "minutes":
            label = _("{task} ({programme})").format(task=row.title, programme=row.version.program.title)
            return MinutesField(unit="min", label=label, **_FREE)
        return PlainDecimalField(unit=_unit(row, self.member.organisation.currency), label=str(row), **_FREE)

    def _programs(self) -> Iterator[Group]:
        numbers = {each.task.pk: each.machines for each in self.shown.minutes}
        foremost: dict[int, int] = {}
        for task in self._rows["minutes"].values():
            foremost.setdefault(task.version.program_id, len(foremost))
        tasks = sorted(self._rows["minutes"].values(), key=lambda task: foremost[task.version.program_id])
        for program, group in groupby(tasks, key=lambda task: task.version.program):
            rows = tuple(
                Row(self[name_of(("minutes", task.pk))], task.title, _on_machines(numbers.get(task.pk, 0)))
                for task in group
            )
            yield Group(rows, program.title, reverse("program", args=[program.pk]))

    def _group(self, kind: str) -> tuple[Group, ...]:
        rows = tuple(Row(self[name_of((kind, pk))], *_said(row)) for pk, row in self._rows[kind].items())
        return (Group(rows),) if rows else ()


_FREE: dict[str, Any] = {
    "required": False,
    "min_value": None,
    "decimal_places": None,
}  # the process has limits


def name_of(place: Place) -> str:
    """Return the name of a place's field."""
    kind, pk = place
    return f"{kind}-{pk}"


def _place(name: str) -> Place:
    kind, _dash, pk = name.partition("-")
    return kind, int(pk)


def _unit(row: Part | Technician | Machine, currency: str) -> str:
    if isinstance(row, Part):
        return f"{currency}/{row.unit}"
    return f"{currency}/h" if isinstance(row, Technician) else currency


def _said(row: Part | Technician | Machine) -> tuple[str, str]:
    """Return what a row is called, and what tells it from others of that name."""
    if isinstance(row, Part):
        return row.name, ", ".join(filter(None, (row.number, row.grade)))
    return str(row), str(row.type) if isinstance(row, Machine) else ""


def _on_machines(number: int) -> str:
    return ngettext("{n} machine", "{n} machines", number).format(n=number) if number else ""
