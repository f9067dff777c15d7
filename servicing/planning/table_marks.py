"""What the marks of one row of a maker's table mean together: its interval for each working condition.

- A mark for the first time only, beside marks for each time: due there first, then by the others.
- Only marks for the first time: due once.
- Marks for each time in several columns of hours: the smallest counts. Tables are printed cumulatively, so
  that the 400-hour column shows what falls due at 400 hours, the 200-hour work among it. A larger one that
  is no multiple of the smallest can't be meant so; the smallest counts nevertheless, and a remark says so.
- Hours beside months or years: whichever comes first.
- A column for a condition stands beside the row's other marks, so it can only shorten the interval.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import reduce
from typing import TypeVar

from servicing.planning.intervals import NORMAL, Rule
from servicing.planning.language import gettext as _
from servicing.planning.language import ngettext

Amount = TypeVar("Amount", Decimal, int)


@dataclass(frozen=True, slots=True)
class Marked:
    """A mark in a column of `hours`, of `months` or of both."""

    hours: Decimal | None = None
    months: int | None = None
    first: bool = False
    condition: str = NORMAL


@dataclass(frozen=True, slots=True)
class Meaning:
    """The rule for each working condition, and what a person should know of how it was read."""

    rules: dict[str, Rule]
    remarks: tuple[str, ...] = ()


def meaning(marks: Sequence[Marked], *, anchor: str = "marks") -> Meaning:
    """Return what the marks of a row mean; none: no rule. `anchor` is put on what repeats."""
    remarks: list[str] = []
    normal = [mark for mark in marks if mark.condition == NORMAL]
    rules = {NORMAL: _rule(normal, anchor, remarks.append)} if normal else {}
    for condition in dict.fromkeys(mark.condition for mark in marks if mark.condition != NORMAL):
        here = [mark for mark in marks if mark.condition == condition]
        if not normal:  # due in this condition only can't be said: it is due in every condition
            rules.setdefault(NORMAL, _rule(here, anchor, remarks.append))
            remarks.append(_only_in(condition))
        else:
            rules[condition] = _rule([*normal, *here], anchor, lambda remark: None)
    return Meaning(rules, tuple(dict.fromkeys(remarks)))


def _only_in(condition: str) -> str:
    said = {
        "dust": _("Marked for dust only; read as due in every condition."),
        "wet": _("Marked for wet only; read as due in every condition."),
        "heavy": _("Marked for heavy only; read as due in every condition."),
    }
    return said[condition]


def _rule(marks: Iterable[Marked], anchor: str, remark: Callable[[str], None]) -> Rule:
    first = [mark for mark in marks if mark.first]
    each = [mark for mark in marks if not mark.first]
    every_hours = _smallest([mark.hours for mark in each], "h", remark)
    every_months = _smallest([mark.months for mark in each], "months", remark)
    first_hours = _earliest([mark.hours for mark in first], "h", remark)
    first_months = _earliest([mark.months for mark in first], "months", remark)
    if first_hours is not None and every_hours is not None and first_hours >= every_hours:
        said = _("First at {first} h is not sooner than every {every} h; check the table.")
        remark(said.format(first=_figure(first_hours), every=_figure(every_hours)))
    once = every_hours is None and every_months is None
    return Rule(
        first_hours=first_hours,
        every_hours=every_hours,
        first_months=first_months,
        every_months=every_months,
        once=once,
        anchor=anchor,
    )


def _smallest(amounts: Iterable[Amount | None], unit: str, remark: Callable[[str], None]) -> Amount | None:
    said = sorted({amount for amount in amounts if amount is not None})
    if not said:
        return None
    smallest, *larger = said
    odd = [amount for amount in larger if amount % smallest]
    within = [amount for amount in larger if not amount % smallest]
    includes = {
        "h": _("Also marked at {amounts} h, which every {smallest} h includes."),
        "months": ngettext(
            "Also marked at {amounts} months, which every month includes.",
            "Also marked at {amounts} months, which every {smallest} months includes.",
            int(smallest),
        ),
    }
    doubtful = {
        "h": _("Also marked at {amounts} h, not a multiple of {smallest}; check the table."),
        "months": _("Also marked at {amounts} months, not a multiple of {smallest}; check the table."),
    }
    if within:
        remark(includes[unit].format(amounts=_list(within), smallest=_figure(smallest)))
    if odd:
        remark(doubtful[unit].format(amounts=_list(odd), smallest=_figure(smallest)))
    return smallest


def _earliest(amounts: Iterable[Amount | None], unit: str, remark: Callable[[str], None]) -> Amount | None:
    said = sorted({amount for amount in amounts if amount is not None})
    marked = {
        "h": _("Marked as a first time at {amounts} h; we keep the first. Check the table."),
        "months": _("Marked as a first time at {amounts} months; we keep the first. Check the table."),
    }
    if len(said) > 1:
        remark(marked[unit].format(amounts=_list(said)))
    return said[0] if said else None


def _list(amounts: Sequence[Decimal | int]) -> str:
    figures = (_figure(amount) for amount in amounts)
    return reduce(lambda one, other: _("{one} and {other}").format(one=one, other=other), figures)


def _figure(amount: Decimal | int) -> str:
    return f"{Decimal(amount).normalize():f}"
