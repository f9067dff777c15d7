"""What machines ran around given moments, from the readings on either side of them."""

from collections.abc import Collection, Sequence
from datetime import datetime, timedelta
from decimal import Decimal

from django.db.models import OuterRef, Subquery

from fleet.models import Machine, Reading
from fleet.readings import attachment_hours
from servicing.ledger import hours_run
from servicing.ledger.hours_run import Point

SEASON_DAYS = 90
YEAR_DAYS = 365


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
