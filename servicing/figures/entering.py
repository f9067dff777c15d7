"""Figures entered where none were: all of them or none, and none over another person's."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.core.wording import money, worktime
from fleet.models import Machine, Member
from servicing.figures.missing import RIGHTS
from servicing.models import Part, ProgramVersion, Task, Technician

MOST_MINUTES = 40 * 60  # a working week; the column keeps more
MOST_MONEY = Decimal(10) ** 10  # the column keeps ten figures before the point and two after it
COLUMNS = {"minutes": "minutes", "costs": "unit_cost", "rates": "hourly_rate", "prices": "price"}
TO = {
    "minutes": gettext_lazy("manage programmes"),
    "costs": gettext_lazy("change parts"),
    "rates": gettext_lazy("plan work"),
    "prices": gettext_lazy("change machines"),
}
Place = tuple[str, int]
"""Where a figure belongs: its kind, a key of RIGHTS, and the id of its task, part, technician or machine."""


@dataclass(frozen=True)
class Figures:
    """What was typed, by id: minutes of a task; money of a part's unit, an hour, a machine."""

    minutes: Mapping[int, int] = field(default_factory=dict)
    costs: Mapping[int, Decimal] = field(default_factory=dict)
    rates: Mapping[int, Decimal] = field(default_factory=dict)
    prices: Mapping[int, Decimal] = field(default_factory=dict)

    def of_kinds(self) -> Iterator[tuple[str, Mapping[int, Any]]]:
        """Yield the kinds of which something was typed, each with what was."""
        for kind in fields(self):
            if typed := getattr(self, kind.name):
                yield kind.name, typed


class FiguresRefused(FleetError):
    """Some of the figures can't be entered, so none was; `sentences` says why, by place."""

    def __init__(self, sentences: Mapping[Place, str]) -> None:
        super().__init__(next(iter(sentences.values())))
        self.sentences = sentences


@transaction.atomic
def enter(*, member: Member, figures: Figures) -> int:
    """Enter these figures; return how many there were to enter. One that is there already is none of them.

    A task's minutes are entered in the current program, and in its draft where that lacks them too. Nothing
    falls due on another day by it; open orders plan with the minutes of their task at once. Orders already
    closed keep what they cost. Raises NotAllowed; FiguresRefused, which says all that is wrong.
    """
    for kind, _typed in figures.of_kinds():
        require(member, RIGHTS[kind], TO[kind])
    locked = {
        kind: {row.pk: row for row in rows_of(kind, typed).select_for_update(of=("self",)).order_by("pk")}
        for kind, typed in figures.of_kinds()
    }
    if refused := _refused(member, figures, locked):
        raise FiguresRefused(refused)
    return sum(_write(kind, typed, locked[kind]) for kind, typed in figures.of_kinds())


def refusals(*, member: Member, figures: Figures) -> dict[Place, str]:
    """Return why these figures couldn't be entered now, by place; {} where they could."""
    rows = {kind: {row.pk: row for row in rows_of(kind, typed)} for kind, typed in figures.of_kinds()}
    return _refused(member, figures, rows)


def rows_of(kind: str, ids: Collection[int]) -> "QuerySet[Any]":
    """Return what may be given a figure of this kind, among these ids: of the scope, and in use."""
    rows: dict[str, QuerySet[Any]] = {
        "minutes": Task.objects.filter(version__in=ProgramVersion.objects.current()).select_related(
            "version__program"
        ),
        "costs": Part.objects.all(),
        "rates": Technician.objects.working().select_related("member__user"),
        "prices": Machine.objects.in_service().select_related("type"),
    }
    return rows[kind].filter(pk__in=list(ids))


def _refused(member: Member, figures: Figures, rows: Mapping[str, Mapping[int, Any]]) -> dict[Place, str]:
    return {
        (kind, pk): why
        for kind, typed in figures.of_kinds()
        for pk, value in typed.items()
        if (why := _why_refused(member, kind, rows[kind].get(pk), value))
    }


def _why_refused(member: Member, kind: str, row: Any, value: Any) -> str:
    if row is None:
        return _("It isn't in use any more.")
    if wrong := _wrong_minutes(value) if kind == "minutes" else _wrong_money(kind, value):
        return wrong
    there = getattr(row, COLUMNS[kind])
    if _is_missing(kind, there) or there == value:
        return ""
    said = worktime(there) if kind == "minutes" else money(there, member.organisation)
    return _("Somebody else has entered {figure} meanwhile. Empty this to keep that.").format(figure=said)


def _wrong_minutes(value: int) -> str:
    if value <= 0:
        return _none_at_all(value)
    if value > MOST_MINUTES:
        return _("Give {most} minutes at most: that is a working week.").format(most=MOST_MINUTES)
    return ""


def _wrong_money(kind: str, value: Decimal) -> str:
    if not value.is_finite() or value < 0 or (value == 0 and kind != "prices"):
        return _none_at_all(value)
    if value >= MOST_MONEY:
        return _("Give ten figures before the point at most.")
    return _("Give two figures after the point at most.") if value != round(value, 2) else ""


def _none_at_all(value: int | Decimal) -> str:
    if value == 0:
        return _("0 counts as not entered. Give more, or leave it empty.")
    return _("Give more than 0.")


def _is_missing(kind: str, there: int | Decimal | None) -> bool:
    """A price of 0 was entered; of all others nought is none."""
    return there is None or (kind != "prices" and not there)


def _write(kind: str, typed: Mapping[int, Any], rows: Mapping[int, Any]) -> int:
    column = COLUMNS[kind]
    lacking = [row for row in rows.values() if _is_missing(kind, getattr(row, column))]
    for row in lacking:
        setattr(row, column, typed[row.pk])
    if lacking:
        type(lacking[0]).objects.bulk_update(lacking, [column])
    if kind == "minutes":
        _write_in_drafts(lacking)
    return len(lacking)


def _write_in_drafts(tasks: Iterable[Task]) -> None:
    """Give the same minutes to the tasks of the same code in drafts that have none."""
    known = {(task.version.program_id, task.code): task.minutes for task in tasks}
    drafted = Task.objects.filter(
        version__in=ProgramVersion.objects.drafts().filter(program__in={program for program, _code in known}),
        minutes=0,
    ).select_related("version")
    lacking = []
    for task in drafted.select_for_update(of=("self",)).order_by("pk"):
        if minutes := known.get((task.version.program_id, task.code)):
            task.minutes = minutes
            lacking.append(task)
    Task.objects.bulk_update(lacking, ["minutes"])
