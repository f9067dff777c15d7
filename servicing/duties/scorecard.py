"""How good were we? Kept projections beside what the rules people use by hand would have said."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from django.db.models import FloatField
from django.db.models.functions import Cast
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import MachineType, Reading
from fleet.usage import backtest
from fleet.usage.backtest import Cases, LogBook, Score
from fleet.usage.crossing import HORIZON
from fleet.usage.days import day_of
from servicing.duties.accuracy import DAY
from servicing.models import Calibration, KeptProjection

BY_HAND = {
    "lifetime rate": _("lifetime rate"),
    "last 30 days": _("last 30 days"),
    "last 90 days": _("last 90 days"),
}
"""The rules as `backtest` calls them, and as people do."""


@dataclass(frozen=True)
class Scorecard:
    """Scores in days. `ours` first among `rules`; parts of it by machine type and by hours left."""

    rules: list[Score]
    by_type: list[Score]
    by_hours_left: list[Score]
    said: np.ndarray
    came: np.ndarray
    calibration: Calibration | None


def scorecard(*, now: datetime | None = None) -> Scorecard | None:
    """Score the kept projections whose outcome is known or overdue; None while there are none.

    A mark not reached by its late day counts as reached now, or on its likely day if that is later. Needs the
    organisation's scope; a constant number of queries.
    """
    now = now or timezone.now()
    kept = [
        each
        for each in KeptProjection.objects.exclude(likely=None).select_related("machine")
        if each.reached_at or (each.late is not None and each.made_at + timedelta(days=each.late) < now)
    ]
    if not kept:
        return None
    book, number = _book({each.machine_id: each.machine.type_id for each in kept})
    cases = Cases(
        machine=np.array([number[each.machine_id] for each in kept], np.int64),
        origin=np.array([day_of(each.made_at) for each in kept]),
        remaining=np.array([float(each.mark_hours - each.hours_then) for each in kept]),
        days=np.array(
            [(each.reached_at - each.made_at) / DAY if each.reached_at else np.nan for each in kept]
        ),
        last_mark=np.full(len(kept), np.nan),
        end=np.array([(now - each.made_at) / DAY for each in kept]),
    )
    ours = np.array([[each.early, each.likely, each.late or HORIZON] for each in kept], float)
    hand = backtest.all_rules(book, cases)
    rules = {"Hourmark": ours} | {str(said): hand[name] for name, said in BY_HAND.items()}
    names = {str(row.pk): str(row) for row in MachineType.objects.filter(pk__in=set(book.types.tolist()))}
    came = backtest.outcome(cases, ours)
    levels = backtest.LEVELS
    return Scorecard(
        rules=[backtest.score(name, cases, days) for name, days in rules.items()],
        by_type=[row._replace(name=names[row.name]) for row in backtest.by_type(book, cases, ours)],
        by_hours_left=backtest.by_hours_left(cases, ours),
        said=levels,
        came=(came <= ours).mean(axis=0),
        calibration=Calibration.objects.first(),
    )


def _days_until(reached: datetime | None, made: datetime) -> float:
    return (reached - made) / DAY if reached else np.nan


def _book(types: dict[int, int]) -> tuple[LogBook, dict[int, int]]:
    number = {pk: place for place, pk in enumerate(sorted(types))}
    rows = (
        Reading.objects.counted()
        .filter(machine__in=number)
        .order_by("machine", "taken_at", "pk")
        .values_list("machine", "taken_at", Cast("hours", FloatField()))
    )
    columns = list(zip(*rows, strict=True)) or [(), (), ()]
    book = backtest.log_book(
        machine=np.array([number[pk] for pk in columns[0]], np.int64),
        day=np.array([day_of(moment) for moment in columns[1]], float),
        hours=np.array(columns[2], float),
        types=np.array([types[pk] for pk in sorted(types)], np.int64),
    )
    return book, number
