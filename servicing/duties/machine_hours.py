"""What machines ran around given moments, from the readings on either side of them."""

from collections.abc import Collection, Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from django.db.models import Max, OuterRef, Subquery
from django.db.models.functions import TruncDate

from fleet.models import Machine, Reading
from fleet.readings import attachment_hours
from servicing.ledger import hours_run
from servicing.ledger.hours_run import Point

SEASON_DAYS = 90
YEAR_DAYS = 365
BEFORE = timedelta(days=30)
"""How far before the first week a reading is looked for, to tell what was run in it."""


def look_back(days: int) -> int:
    """Return how many days back the pace is taken from, to say something of so many days ahead.

    A season for a season; beyond that a whole year, so that winter's pace isn't taken for the harvest's.
    """
    return SEASON_DAYS if days <= SEASON_DAYS else YEAR_DAYS


def paces(
    machines: Collection[Machine], now: datetime, *, days: int = SEASON_DAYS
) -> dict[int, Decimal | None]:
    """Return the hours a day that machines ran in the last days, by id; None where too little is known."""
    since = now - timedelta(days=days)
    return {
        pk: hours_run.pace(known, since, now) for pk, known in points_near(machines, [since, now]).items()
    }


def by_week(machines: Collection[Machine], now: datetime, *, weeks: int) -> dict[int, list[Decimal | None]]:
    """Return the hours each machine ran in its last weeks, by id, as `hours_run.by_week` does.

    One query, of one row a machine and day. An attachment has no readings of its own, so no hours here.
    """
    since = now - weeks * hours_run.WEEK - BEFORE
    counted = Reading.objects.counted().filter(
        machine__in=[machine.pk for machine in machines], taken_at__gt=since, taken_at__lte=now
    )
    points: dict[int, list[Point]] = {machine.pk: [] for machine in machines}
    by_day = counted.annotate(day=TruncDate("taken_at", tzinfo=UTC)).values("machine_id", "day").order_by()
    for pk, at, hours in by_day.annotate(at=Max("taken_at"), ran=Max("hours")).values_list(
        "machine_id", "at", "ran"
    ):
        points[pk].append(Point(at, hours))
    return {pk: hours_run.by_week(known, now, weeks) for pk, known in points.items()}


def points_near(machines: Collection[Machine], moments: Sequence[datetime]) -> dict[int, list[Point]]:
    """Return the counted readings next to each moment on either side, by machine.

    Of attachments it is the whole course. Two queries, and two more where there are attachments.
    """
    counted = Reading.history(machine=OuterRef("pk"))
    nearest: dict[str, Subquery] = {}
    for n, moment in enumerate(moments):
        nearest |= counted.ids_around(moment, n)
    ids = Machine.objects.filter(pk__in=[m.pk for m in machines]).annotate(**nearest).values_list(*nearest)
    wanted = {pk for row in ids for pk in row if pk is not None}
    points: dict[int, list[Point]] = {machine.pk: [] for machine in machines}
    near = Reading.objects.filter(pk__in=wanted).values_list("machine_id", "taken_at", "hours")
    for machine_id, taken_at, hours in near:
        points[machine_id].append(Point(taken_at, hours))
    attachments = [machine.pk for machine in machines if machine.is_attachment]
    if attachments:
        for attachment, at, hours, _ in attachment_hours.histories(attachments, until=max(moments)):
            points[attachment].append(Point(at, hours))
    return points
