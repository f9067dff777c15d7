"""Days gathered into stops: what falls due close together on one machine is one visit to it."""

from collections.abc import Sequence
from datetime import date, timedelta

WITHIN_DAYS = 7


def gather(days: Sequence[date | None], *, within_days: int = WITHIN_DAYS) -> list[list[int]]:
    """Return the positions of `days` gathered into stops, earliest stop first.

    A stop takes every day up to `within_days` after its first. Days not known (None) make one last stop.
    Positions keep their order within a stop when their days are equal.
    """
    known = sorted((day, position) for position, day in enumerate(days) if day is not None)
    stops: list[list[int]] = []
    end = date.min
    for day, position in known:
        if not stops or day > end:
            stops.append([])
            end = day + timedelta(days=within_days)
        stops[-1].append(position)
    unknown = [position for position, day in enumerate(days) if day is None]
    return [*stops, unknown] if unknown else stops
