"""What else is worth doing while a machine is stopped: a machine stopped once is better than twice."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from servicing.planning.language import gettext as _
from servicing.planning.language import ngettext

NEAR_DAYS = 21


@dataclass(frozen=True)
class Candidate:
    """A duty that could join an order.

    overdue: its mark is reached. likely: the projected day, if any.
    """

    id: int
    overdue: bool
    likely: date | None
    deferred_until: date | None = None

    def is_deferred(self, today: date) -> bool:
        """Whether it is deferred to a day still to come."""
        return self.deferred_until is not None and self.deferred_until > today


@dataclass(frozen=True)
class Suggestion:
    """A duty in the light of the stop: whether it should be ticked from the start, and why."""

    id: int
    chosen: bool
    near: bool
    reason: str


def stop_day(candidates: Iterable[Candidate], *, today: date, planned_for: date | None = None) -> date:
    """Return the day the machine is stopped anyhow: the planned one, today for what is overdue, else the
    first likely day."""
    if planned_for:
        return max(planned_for, today)
    rows = list(candidates)
    if any(row.overdue for row in rows):
        return today
    return max(min((row.likely for row in rows if row.likely), default=today), today)


def suggest(
    candidates: Iterable[Candidate], *, today: date, soon_days: int, near_days: int = NEAR_DAYS
) -> list[Suggestion]:
    """Return each duty with what to do about it: overdue or likely within `soon_days`: chosen; likely within
    `near_days` after the day the machine is stopped for the chosen ones: near, worth doing in the same stop.
    """
    rows = list(candidates)
    soon = today + timedelta(days=soon_days)
    chosen = [
        row
        for row in rows
        if not row.is_deferred(today) and (row.overdue or (row.likely is not None and row.likely <= soon))
    ]
    stop = stop_day(chosen, today=today) if chosen else None
    return [_judged(row, row in chosen, stop, today, near_days) for row in rows]


def _judged(row: Candidate, chosen: bool, stop: date | None, today: date, near_days: int) -> Suggestion:
    if row.is_deferred(today):
        return Suggestion(row.id, False, False, _("deferred until later"))
    if row.overdue:
        return Suggestion(row.id, True, False, _("overdue"))
    if row.likely is None:
        return Suggestion(row.id, False, False, _("not likely within three years"))
    if chosen or stop is None:
        left = (row.likely - today).days
        days = ngettext("likely due in {n} day", "likely due in {n} days", left).format(n=left)
        return Suggestion(row.id, chosen, False, days if left > 0 else _("likely due now"))
    later = (row.likely - stop).days
    if later <= near_days:
        reason = ngettext(
            "due {n} day later: same visit, same down time",
            "due {n} days later: same visit, same down time",
            later,
        )
        return Suggestion(row.id, False, True, reason.format(n=later))
    reason = ngettext("likely due {n} day after this visit", "likely due {n} days after this visit", later)
    return Suggestion(row.id, False, False, reason.format(n=later))
