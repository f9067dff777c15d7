"""What may lie behind held readings: a meter replaced without being told, or two machines mixed up."""

from collections.abc import Sequence
from typing import NamedTuple

from fleet.usage.plausibility import CLOCK, RESOLUTION, USUAL_PACE, Point, fits

AGREE = 2  # low readings that run on from each other before a new meter is asked about


class NewMeter(NamedTuple):
    """A meter that was likely replaced: when (day since 1970), and what the old and the new one showed then.

    members: places of the readings that run on from each other on the new meter.
    """

    day: float
    old_shows: float
    new_shows: float
    members: list[int]


def new_meter(*, before: Point, lows: Sequence[Point], pace: float | None = None) -> NewMeter | None:
    """Tell whether low readings after ``before`` are those of another meter; None when they don't show it.

    before: the last counted reading as (day, hours). lows: held readings, in time order; those before it or
    not below it are passed over. pace: hours a day so far.

    The first low reading and at least one more must run on from each other within what a clock allows. What
    is supposed: a new meter began at zero right after ``before`` if it can have run to the first low figure
    since; else a used one was fitted at the moment of the first low reading, and the old one had run on at
    the machine's pace until then.
    """
    members: list[int] = []
    for place, (day, hours) in enumerate(lows):
        if day <= before[0] or hours >= before[1] - RESOLUTION:
            continue
        if members and not _runs_on(lows[members[-1]], (day, hours)):
            continue
        members.append(place)
    if len({lows[place][0] for place in members}) < AGREE:
        return None
    day, hours = lows[members[0]]
    gap = day - before[0]
    if hours <= CLOCK * gap:
        return NewMeter(before[0], before[1], 0.0, members)
    ran = min(USUAL_PACE if pace is None else pace, CLOCK) * gap
    return NewMeter(day, round(before[1] + ran, 1), hours, members)


def mixed_up(
    *,
    one: Point,
    one_between: tuple[Point | None, Point | None],
    other: Point,
    other_between: tuple[Point | None, Point | None],
) -> bool:
    """Whether each of two machines' readings fits the other's history, as (day, hours) and their neighbours.

    Each figure is tried at the moment it was read, between the counted readings of the other machine, whose
    own reading is left out of these.
    """
    return fits(hours=other[1], day=other[0], before=one_between[0], after=one_between[1]) and fits(
        hours=one[1], day=one[0], before=other_between[0], after=other_between[1]
    )


def _runs_on(last: Point, following: Point) -> bool:
    gained, gap = following[1] - last[1], following[0] - last[0]
    return -RESOLUTION <= gained <= CLOCK * gap + RESOLUTION
