"""The work ahead, week by week or month by month: how many tasks, and how many hours of labour."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta

from servicing.models import Duty

WEEKS_UNTIL = 92  # days; a longer time is told by months


@dataclass(frozen=True)
class Period:
    """A week (from Monday), a month, or what is left of one; both days included.

    duties: what is likely to fall due in it, by day; work that comes round again as often as it comes.
    """

    first: date
    last: date
    duties: list[Duty] = field(default_factory=list)

    @property
    def minutes(self) -> int:
        """Labour time of it all."""
        return sum(duty.task.minutes for duty in self.duties)

    @property
    def untimed(self) -> int:
        """How many tasks have no time entered, and so no part in the minutes."""
        return sum(not duty.task.minutes for duty in self.duties)


def overdue(duties: Iterable[Duty], today: date) -> Period:
    """Return what is overdue today."""
    return Period(today, today, [duty for duty in duties if duty.pk and duty.is_overdue(today)])


def ahead(duties: Iterable[Duty], *, today: date, until: date) -> list[Period]:
    """Return the periods from today until a day, empty ones too, with what isn't overdue.

    A day that went by without its hours being reached counts as today.
    """
    found = [Period(first, last) for first, last in _periods(today, until)]
    for duty in duties:
        if duty.likely is None or duty.likely > until or (duty.pk and duty.is_overdue(today)):
            continue
        day = max(duty.likely, today)
        next(each for each in found if day <= each.last).duties.append(duty)
    return found


def by_months(today: date, until: date) -> bool:
    """Whether the time until a day is told by months, not by weeks."""
    return (until - today).days > WEEKS_UNTIL


def _periods(today: date, until: date) -> Iterable[tuple[date, date]]:
    weekly = not by_months(today, until)
    first = today
    while first <= until:
        if weekly:
            following = first + timedelta(days=7 - first.weekday())
        else:
            following = (first.replace(day=1) + timedelta(days=32)).replace(day=1)
        yield first, min(following - timedelta(days=1), until)
        first = following
