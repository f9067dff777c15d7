"""One machine's own interval for a task, in place of the program's."""

from dataclasses import replace
from decimal import Decimal
from typing import TypeVar

from servicing.planning.intervals import ZERO, Rule

Amount = TypeVar("Amount", Decimal, int)


def departed(rule: Rule, *, every_hours: Decimal | None, every_months: int | None) -> Rule:
    """Return the program's rule with these periods in place of its own, at least one of them given.

    The anchor and the late allowance stay. A first time stays where it still comes before the new period, or
    where neither rule repeats by its unit; an early window that no longer fits falls away.
    """
    return replace(
        rule,
        every_hours=every_hours,
        every_months=every_months,
        first_hours=_first(rule.first_hours, rule.every_hours, every_hours),
        first_months=_first(rule.first_months, rule.every_months, every_months),
        once=False,
        early_window_hours=(
            rule.early_window_hours if every_hours and rule.early_window_hours < every_hours else ZERO
        ),
    )


def _first(first: Amount | None, was: Amount | None, every: Amount | None) -> Amount | None:
    if first is None or (every is None and was is not None):
        return None
    return first if every is None or first < every else None
