"""How long the stock of each part is likely to last, in all yards together."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime

from django.utils import timezone

from servicing.ledger.stock_course import StockCourse, Use, course
from servicing.models import Part
from servicing.stock.coming_uses import coming_uses
from servicing.stock.parts import PartStock

DAYS = 90


def stock_courses(
    rows: Iterable[PartStock], *, part: Part | None = None, now: datetime | None = None
) -> dict[int, StockCourse]:
    """Return the course of these stocks over the next DAYS days, by part id; substitutes are not counted.

    part: the one that the rows are of, so that no other is worked out. Needs the organisation's scope; asks a
    constant number of queries.
    """
    uses: dict[int, list[Use]] = defaultdict(list)
    for need, coming, ordered in coming_uses(days=DAYS, now=now or timezone.now(), part=part):
        uses[need.part_id].append(Use(coming, float(need.quantity), ordered))
    return {row.part.pk: course(float(row.free), uses[row.part.pk], DAYS) for row in rows}
