"""One meter's readings read over again in time order, when something came in between or was taken out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, tzinfo

from fleet.usage.plausibility import OK, Point, Verdict, judge, unlikely

LEAST = 14.0  # days below which no pace is taken
ROUNDS = 5  # a reading let in or taken out may let in or take out another; two or three rounds are the rule


@dataclass(slots=True)
class StandingReading:
    """A reading as it stands: day since 1970 (UTC, with fraction), hours shown.

    fixed: a person decided that it counts, or it began or ended a meter; it is not put in doubt.
    """

    day: float
    hours: float
    counted: bool
    fixed: bool = False


def pace_so_far(first: Point | None, last: Point | None) -> float | None:
    """Hours a day between a meter's first counted reading and the last; None while too little is known.

    It rests on these two alone, so that it is the same whatever order readings came in.
    """
    if first is None or last is None or last[0] - first[0] < LEAST or last[1] < first[1]:
        return None
    return (last[1] - first[1]) / (last[0] - first[0])


def judge_again(
    readings: Sequence[StandingReading],
    *,
    earlier: Sequence[Point] = (),
    end: Point | None = None,
    zone: tzinfo = UTC,
) -> dict[int, Verdict]:
    """Judge readings of one meter again; return the verdicts of those whose state changes, by place.

    readings: in order of day, then hours. earlier: the meter's first counted reading and the last one before
    these, as far as there are any. end: what the meter showed when it was replaced, if it was.

    A held reading that fits now counts. A counted one is held only where it is unlikely by what is known
    before it now (``unlikely``); one that others contradict stays, since a person must say which is
    wrong or whether the meter was replaced. A set of readings that don't contradict each other therefore ends
    the same way whatever order they came in.
    """
    counted = [reading.counted for reading in readings]
    changed: dict[int, Verdict] = {}
    for _ in range(ROUNDS):
        again = _one_round(readings, counted, earlier, end, zone)
        if not again:
            break
        changed |= again
    return {place: verdict for place, verdict in changed.items() if counted[place] != readings[place].counted}


def _one_round(
    readings: Sequence[StandingReading],
    counted: list[bool],
    earlier: Sequence[Point],
    end: Point | None,
    zone: tzinfo,
) -> dict[int, Verdict]:
    """One walk in time order; writes into ``counted``."""
    first, before = (earlier[0], earlier[-1]) if earlier else (None, None)
    changed: dict[int, Verdict] = {}
    following = _next_counted(readings, counted, end)
    for place, reading in enumerate(readings):
        pace = pace_so_far(first, before)
        if not counted[place]:
            verdict = judge(
                hours=reading.hours,
                taken_at_day=reading.day,
                before=before,
                after=following[place],
                pace=pace,
                zone=zone,
            )
            if verdict.counted:
                counted[place], changed[place] = True, OK
        elif not reading.fixed:
            doubt = unlikely(hours=reading.hours, day=reading.day, before=before, pace=pace, zone=zone)
            if doubt is not None:
                counted[place], changed[place] = False, doubt
        if counted[place]:
            before = (reading.day, reading.hours)
            first = first or before
    return changed


def _next_counted(
    readings: Sequence[StandingReading], counted: list[bool], end: Point | None
) -> list[Point | None]:
    """For each reading the counted one after it, the meter's end after the last."""
    following: list[Point | None] = []
    after = end
    for place in reversed(range(len(readings))):
        following.append(after)
        if counted[place]:
            after = (readings[place].day, readings[place].hours)
    following.reverse()
    return following
