"""What is said of a programme's tasks: when they fall due, and which machines they are for."""

from dataclasses import asdict
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.core.wording import exact, in_a_sentence
from fleet.models.machine import WorkingCondition
from fleet.usage.figures import TIGHT
from servicing.models import Interval
from servicing.planning.maker_table import GridTask
from servicing.planning.table_marks import meaning
from servicing.planning.table_specs import Limit


def in_sentence(names: Any) -> str:
    """Return a name, or several, as they stand within a sentence: `Front loader` as `front loader`."""
    return in_a_sentence(names if isinstance(names, str) else ", ".join(str(each) for each in names))


def interval(of: Any) -> str:
    """Return `in dust: first at 50 h, then every 100 h or 6 months, on a fixed schedule`.

    of: an Interval, or a row with its names.
    """
    of = SimpleNamespace(**of) if isinstance(of, dict) else of
    return _where(of, _once(of) if of.once else _anchored(of))


def reading(task: GridTask) -> str:
    """Return the sentence a row of a maker's table becomes: `Air filter: every 100 h; in dust: every 50 h`.

    What hangs on no hours and no months is said with that.
    """
    rules = meaning(task.marks).rules
    due = [rhythm(SimpleNamespace(condition=name, **asdict(rule))) for name, rule in rules.items()]
    if task.when:
        due.append(_("{when} (shown, not scheduled)").format(when=task.when) if not due else task.when)
    said = _("{title}: {due}").format(title=task.title, due="; ".join(due))
    return f"{said} ({task.note})" if task.note else said


def limit(of: Limit) -> str:
    """Return `from 85 to 95 N·m`, `at most 5 bar`, `at least 12.4 V`."""
    values = {"lower": exact(of.lower), "upper": exact(of.upper), "unit": of.unit}
    if of.lower is None:
        return _("at most {upper} {unit}").format(**values)
    if of.upper is None:
        return _("at least {lower} {unit}").format(**values)
    return _("from {lower} to {upper} {unit}").format(**values)


def rhythm(of: Any) -> str:
    """Return the same without what it is counted from: `in dust: every 100 h or 6 months`."""
    return _where(of, _once(of) if of.once else _from_the_first(of))


def _where(of: Any, said: str) -> str:
    conditions = {
        WorkingCondition.DUST: _("in dust: {interval}"),
        WorkingCondition.WET: _("in wet: {interval}"),
        WorkingCondition.HEAVY: _("in heavy load: {interval}"),
    }
    return conditions.get(WorkingCondition(of.condition), "{interval}").format(interval=said)


def _once(of: Any) -> str:
    months = of.first_months or 0
    values = {"hours": _hours(of.first_hours), "n": months}
    if not months:
        return _("once, at {hours}").format(**values)
    if not of.first_hours:
        return ngettext("once, after {n} month", "once, after {n} months", months).format(**values)
    return ngettext(
        "once, at {hours} or after {n} month", "once, at {hours} or after {n} months", months
    ).format(**values)


def _anchored(of: Any) -> str:
    said = _from_the_first(of)
    if of.anchor == Interval.Anchor.MARKS:
        return _("{every}, on a fixed schedule").format(every=said)
    return _("{every}, counted from when it was last done").format(every=said)


def _from_the_first(of: Any) -> str:
    said = _every(of)
    if of.first_hours:
        return _("first at {hours}, then {every}").format(hours=_hours(of.first_hours), every=said)
    return said


def _every(of: Any) -> str:
    months = of.every_months or 0
    values = {"hours": _hours(of.every_hours), "n": months}
    if not months:
        return _("every {hours}").format(**values)
    if not of.every_hours:
        return ngettext("every {n} month", "every {n} months", months).format(**values)
    return ngettext("every {hours} or {n} month", "every {hours} or {n} months", months).format(**values)


def _hours(value: Decimal | None) -> str:
    return f"{exact(value)}{TIGHT}h"
