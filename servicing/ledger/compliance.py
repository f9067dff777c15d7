"""Was preventive work done by its mark? Each mark that fell due is counted once, in one month."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from servicing.ledger.hours_run import Run
from servicing.ledger.rounding import share
from servicing.planning import intervals
from servicing.planning.intervals import Limit, last_in_time


@dataclass(frozen=True)
class Mark:
    """A mark of one task of one machine: hours, a date or both, whichever comes first.

    What is in time by its allowance and the end of its month is said in `servicing.planning.intervals`.
    `done_hours` and `done_on` say when the work was done, None when it wasn't.
    """

    hours: Decimal | None
    on: date | None
    allowance: Decimal = Decimal(0)
    done_hours: Decimal | None = None
    done_on: date | None = None
    to_month_end: bool = False

    @property
    def limit(self) -> Limit:
        """The last hour and the last day at which the work is still in time."""
        return last_in_time(
            intervals.Mark(self.hours, self.on), self.allowance, to_month_end=self.to_month_end
        )

    @property
    def done_in_time(self) -> bool:
        """Whether the work was done, and in time."""
        return self.done_on is not None and self.limit.is_kept(self.done_hours, self.done_on)


class Kept(StrEnum):
    """What became of a mark within the month it belongs to."""

    IN_TIME = "in time"
    LATE = "late"
    NOT_DONE = "not done"
    CARRIED_IN = "carried in"  # fell due in an earlier month, done in this one
    STILL_OPEN = "still open"  # fell due in an earlier month, not done by the end of this one


def judge(mark: Mark, run: Run | None, first_day: date, last_day: date) -> Kept | None:
    """Say what became of `mark` in the month from `first_day` to `last_day`; None when it isn't this month's.

    `run` holds the machine's hours at the month's edges; without it only dates and recorded hours can tell.
    Work done in time belongs to the month it was done in; anything else to the month of the last moment at
    which it would have been in time. Work finished after `last_day` counts as not done, so that a month that
    is over doesn't change any more.
    """
    if mark.done_on is not None and mark.done_on < first_day:
        return None
    done = mark.done_on is not None and mark.done_on <= last_day
    if done and mark.done_in_time:
        return Kept.IN_TIME
    if _due_before(mark, run, first_day):
        return Kept.CARRIED_IN if done else Kept.STILL_OPEN
    if done:
        return Kept.LATE
    return Kept.NOT_DONE if _due_by(mark, run, last_day) else None


def _due_before(mark: Mark, run: Run | None, first_day: date) -> bool:
    limit = mark.limit
    by_hours = run is not None and limit.hours is not None and limit.hours <= run.start
    return by_hours or (limit.on is not None and limit.on < first_day)


def _due_by(mark: Mark, run: Run | None, last_day: date) -> bool:
    limit = mark.limit
    by_hours = run is not None and limit.hours is not None and limit.hours <= run.end
    return by_hours or (limit.on is not None and limit.on <= last_day)


@dataclass(frozen=True)
class Compliance:
    """A month's marks. `due` is the denominator: marks that fell due in it, or were met in it before that."""

    in_time: int = 0
    late: int = 0
    not_done: int = 0
    carried_in: int = 0
    still_open: int = 0

    @property
    def due(self) -> int:
        """How many marks this month answers for."""
        return self.in_time + self.late + self.not_done

    @property
    def done(self) -> int:
        """How many of them were done by the end of the month."""
        return self.in_time + self.late

    @property
    def of_due(self) -> Decimal | None:
        """PM compliance in per cent: done in time / due. None, not 100, when nothing was due.

        NASA NPR 8831.2E, App. G: jobs completed as scheduled / total jobs scheduled.
        """
        return share(self.in_time, self.due)

    @property
    def of_done(self) -> Decimal | None:
        """Done in time / done, in per cent: the other form in print, which forgets what wasn't done."""
        return share(self.in_time, self.done)


def count(kept: Iterable[Kept | None]) -> Compliance:
    """Count judgements; None is passed over."""
    seen = [k for k in kept if k is not None]
    return Compliance(
        in_time=seen.count(Kept.IN_TIME),
        late=seen.count(Kept.LATE),
        not_done=seen.count(Kept.NOT_DONE),
        carried_in=seen.count(Kept.CARRIED_IN),
        still_open=seen.count(Kept.STILL_OPEN),
    )


def add(parts: Iterable[Compliance]) -> Compliance:
    """Return the sum over machines."""
    together = list(parts)
    return Compliance(*(sum(getattr(c, name) for c in together) for name in Compliance.__dataclass_fields__))
