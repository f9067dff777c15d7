"""The small strip beside a machine on a list: when its next task falls due, within so many days."""

from dataclasses import dataclass
from datetime import date

from servicing.web.charts.axis import Scale

DAYS = 60


@dataclass(frozen=True)
class NextDue:
    """From early to late, in per cent of the strip's width. tick: the likely day, where it is in sight."""

    x: float
    width: float
    tick: float | None
    overdue: bool = False


def next_due(
    *, overdue: bool, early: date | None, likely: date | None, late: date | None, today: date
) -> NextDue | None:
    """Lay out the strip from today over DAYS days; None where nothing falls due in sight."""
    if overdue:
        return NextDue(0, 100, None, overdue=True)
    if early is None or (first := (early - today).days) >= DAYS:
        return None
    across = Scale(0, DAYS, 0, 100)
    start = across(first)
    end = 100.0 if late is None else across((late - today).days + 1)
    tick = None if likely is None or (likely - today).days >= DAYS else across((likely - today).days)
    return NextDue(start, round(max(end - start, 1.5), 2), tick)
