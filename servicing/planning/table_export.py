"""A program drawn as its maker's table: the marks of its rules, and the cells of the whole."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from servicing.planning.intervals import NORMAL, Rule
from servicing.planning.table_marks import Marked

MARK, FIXED, OCCASION = "x", ("Task", "Page", "Note"), "Occasion"


@dataclass(frozen=True, slots=True)
class Drawn:
    """A task to draw, with its rules by condition; occasion: when it is done where no rule says so."""

    title: str
    page: str
    note: str
    rules: Mapping[str, Rule]
    occasion: str = ""


def marks_of(rules: Mapping[str, Rule]) -> list[Marked]:
    """Return the marks that say these rules in a table."""
    found = []
    for condition, rule in rules.items():
        for first, hours, months in (
            (True, rule.first_hours, rule.first_months),
            (False, rule.every_hours, rule.every_months),
        ):
            if hours is not None:
                found.append(Marked(hours.normalize(), None, first, condition))
            if months is not None:
                found.append(Marked(None, months, first, condition))
    return found


def draw(tasks: Sequence[Drawn]) -> list[list[str]]:
    """Return the cells of the table, headings first: tasks down, intervals across, then pages and notes.

    `maker_table.read` understands it. Windows, allowances and anchors have no place in a table.
    """
    marks = [marks_of(task.rules) for task in tasks]
    columns = sorted({mark for row in marks for mark in row}, key=_order)
    occasions = [OCCASION] if any(task.occasion for task in tasks) else []
    table = [[FIXED[0], *(_heading(column) for column in columns), *occasions, *FIXED[1:]]]
    for task, row in zip(tasks, marks, strict=True):
        said = [task.occasion] if occasions else []
        marked = (MARK if column in row else "" for column in columns)
        table.append([task.title, *marked, *said, task.page, task.note])
    return table


def _order(mark: Marked) -> tuple[bool, str, bool, Decimal, int]:
    """Every condition after normal; hours before months; the first time before each time."""
    return (
        mark.condition != NORMAL,
        mark.condition,
        mark.hours is None,
        Decimal(not mark.first),
        int((mark.hours or 0) * 100) or (mark.months or 0),
    )


def _heading(mark: Marked) -> str:
    if mark.hours is not None:
        amount = f"{mark.hours:f} h"
    elif mark.months is not None and mark.months % 12 == 0:
        amount = "1 year" if mark.months == 12 else f"{mark.months // 12} years"
    else:
        amount = "1 month" if mark.months == 1 else f"{mark.months} months"
    words = f"first {amount}" if mark.first else f"every {amount}"
    return words if mark.condition == NORMAL else f"{mark.condition}: {words}"
