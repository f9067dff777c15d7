"""Days a machine couldn't be used: in the shop or tagged out, each moment counted once."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from decimal import Decimal

from servicing.ledger.rounding import TENTH, half_up

Span = tuple[datetime, datetime | None]


def days_down(spans: Iterable[Span], start: datetime, end: datetime) -> Decimal:
    """Return how many days (24 h of elapsed time, to a tenth) the spans cover between `start` and `end`.

    A span without an end is still going on. Spans may overlap; what they share counts once.
    """
    clipped = sorted((max(begin, start), min(finish or end, end)) for begin, finish in spans)
    covered, reached = timedelta(), start
    for begin, finish in clipped:
        if finish > max(begin, reached):
            covered += finish - max(begin, reached)
            reached = finish
    return half_up(Decimal(covered.total_seconds()) / 86400, TENTH)
