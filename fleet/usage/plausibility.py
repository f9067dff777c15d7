"""One new reading against its neighbours: can it be true, and if not, what was likely meant?"""

import math
from collections.abc import Iterator
from datetime import UTC, tzinfo
from typing import NamedTuple

from fleet.usage.days import moment_of
from fleet.usage.figures import TIGHT, grouped, long_day, span
from fleet.usage.figures import hours as _h
from fleet.usage.language import gettext as _

CLOCK = 24.0  # hours a machine can run in a day
RESOLUTION = 0.1  # what a meter's last digit is worth, in hours; differences up to it are rounding
CLOCK_SKEW = 15 / 1440  # days a sender's clock may be ahead of ours
USUAL_PACE = 4.0  # hours a day, where nothing is known of the machine
SLIP = 5.0  # hours a reading must be off before a slipped digit is a better tale than a wrong note
BUSY = 20.0  # hours a day that no machine of unknown habit keeps up over a week or more
WRAPS = (
    1_000.0,
    10_000.0,
    100_000.0,
)  # where meters of 3, 4 or 5 figures begin again; common practice, no source
NEAR_WRAP = 0.9  # a meter below this share of its figures doesn't begin again
CODES = ("ok", "too_fast", "backwards", "slipped_digit", "rolled_over", "from_future", "negative")
Point = tuple[float, float]  # day, hours


class Verdict(NamedTuple):
    """What to make of a reading; ``reason`` is a sentence for the person who took it, '' when ok."""

    counted: bool
    code: str  # one of CODES
    reason: str
    suggestion: float | None


OK = Verdict(True, "ok", "", None)


def _day(day: float, zone: tzinfo) -> str:
    """Name a day (days since 1970-01-01 UTC) as the zone's clocks have it: '3 May 2026'."""
    return long_day(moment_of(day).astimezone(zone))


def _clock(day: float, zone: tzinfo) -> str:
    """Name the time on that day: '17:22'."""
    return f"{moment_of(day).astimezone(zone):%H:%M}"


def judge(
    *,
    hours: float,
    taken_at_day: float,
    before: Point | None = None,
    after: Point | None = None,
    pace: float | None = None,
    now_day: float | None = None,
    zone: tzinfo = UTC,
) -> Verdict:
    """Judge one reading of total hours.

    hours, taken_at_day: the reading, hours and days since 1970-01-01 (UTC, with fraction).
    before, after: the nearest counted readings in time on the same meter segment as (day, hours).
    pace: hours a day so far, if known; it sharpens what is taken for a slipped digit.
    now_day: the present moment, if readings from the future shall be told.
    zone: whose clocks name days and times in the reason.

    A step of exactly 24 h a day is allowed; the meter's last digit (0.1 h) is allowed on top of it, and
    as much is allowed backwards, since one source rounds up where another rounds down.
    Raises ValueError for hours or a day that is not a finite number.
    """
    if not (math.isfinite(hours) and math.isfinite(taken_at_day)):
        raise ValueError("hours and day must be finite numbers")
    if hours < 0:
        reason = _("A meter can't show {hours}: hours start at zero.").format(hours=_h(hours))
        return Verdict(False, "negative", reason, None)
    if now_day is not None and taken_at_day > now_day + CLOCK_SKEW:
        reason = _(
            "The reading is dated {day}, {early} after it came in; check the date and the clock."
        ).format(day=_day(taken_at_day, zone), early=span(taken_at_day - now_day))
        return Verdict(False, "from_future", reason, None)
    code, reason, off = _impossible(hours, taken_at_day, before, after, zone)
    if code == "ok":
        return unlikely(hours=hours, day=taken_at_day, before=before, pace=pace, zone=zone) or OK
    meant = _meant(hours, taken_at_day, before, after, pace) if off > SLIP else None
    if code == "backwards" and before is not None and after is None:
        wrap = wrapped(hours=hours, day=taken_at_day, before=before, pace=pace)
        if wrap is not None and not _better(meant, hours + wrap, taken_at_day, before, pace):
            told = _(
                "{finding}; did the meter pass {wrap} and begin at zero again? It would have run {ran} since."
            ).format(finding=reason, wrap=f"{grouped(wrap, 0)}{TIGHT}h", ran=_h(hours + wrap - before[1]))
            return Verdict(False, "rolled_over", told, None)
    if meant is None:
        return Verdict(False, code, f"{reason}.", None)
    return _slipped(reason, meant)


def unlikely(
    *,
    hours: float,
    day: float,
    before: Point | None,
    pace: float | None,
    zone: tzinfo = UTC,
) -> Verdict | None:
    """Tell a step that the clock allows, but that one slip explains far better than the machine's habits do.

    It looks back only, to ``before`` and at the ``pace`` up to it, so that a history read in time order comes
    out the same whatever order its readings arrived in. None where there is nothing to tell.
    """
    if before is None or not _wild(hours, day, before, pace):
        return None
    meant = _meant(hours, day, before, None, pace)
    if meant is None:
        return None
    finding = _("{hours} is {step} more than the {known} read on {day}, far more than this machine runs")
    step = _h(hours - before[1])
    return _slipped(
        finding.format(hours=_h(hours), step=step, known=_h(before[1]), day=_day(before[0], zone)), meant
    )


def wrapped(*, hours: float, day: float, before: Point, pace: float | None = None) -> float | None:
    """After how many hours the meter began again at zero, if that explains a low figure; else None.

    hours, day: the low figure and when it was read. before: the last counted one as (day, hours).
    """
    for wrap in WRAPS:
        near = NEAR_WRAP * wrap <= before[1] <= wrap and hours < before[1]
        if near and _miss(hours + wrap, day, before, None, pace) is not None:
            return wrap
    return None


def fits(*, hours: float, day: float, before: Point | None, after: Point | None) -> bool:
    """Whether the clock allows a figure between its neighbours; without any neighbour there is no telling."""
    known = before is not None or after is not None
    return known and _impossible(hours, day, before, after, UTC)[0] == "ok"


def _slipped(reason: str, meant: float) -> Verdict:
    told = _("{finding}; did a digit slip? {meant} would fit.").format(finding=reason, meant=_h(meant))
    return Verdict(False, "slipped_digit", told, meant)


def _better(meant: float | None, other: float, day: float, before: Point, pace: float | None) -> bool:
    """Whether a slip lies nearer to the machine's habit than the other tale does."""
    if meant is None:
        return False
    slip, tale = _miss(meant, day, before, None, pace), _miss(other, day, before, None, pace)
    return slip is not None and (tale is None or slip < tale)


def _impossible(
    hours: float, day: float, before: Point | None, after: Point | None, zone: tzinfo
) -> tuple[str, str, float]:
    """The first rule of the clock that is broken: code, clause without its full stop, hours off."""
    for known, sign in ((before, 1.0), (after, -1.0)):
        if known is None:
            continue
        gap, gained = sign * (day - known[0]), sign * (hours - known[1])
        room = CLOCK * max(gap, 0.0)
        if -RESOLUTION - 1e-9 <= gained <= room + RESOLUTION + 1e-9:
            continue
        if gained < -RESOLUTION - 1e-9:
            return "backwards", _backwards(hours, day, known, zone), -gained
        finding = _too_fast(later=sign > 0, apart=gap * 1440 >= 1)
        reason = finding.format(
            hours=_h(hours), step=_h(gained), known=_h(known[1]), day=_day(known[0], zone), gap=span(gap)
        )
        return "too_fast", reason, gained - room
    return "ok", "", 0.0


def _too_fast(*, later: bool, apart: bool) -> str:
    """Say, without a full stop, that hours can't go up so fast from one reading to the other.

    later: than the known one. apart: whether there is a time between the two that can be said.
    """
    if later and apart:
        return _("{hours} is {step} more than the {known} read on {day}, with only {gap} between them")
    if later:
        return _("{hours} is {step} more than the {known} read on {day}, but both at the same moment")
    if apart:
        return _("{hours} is {step} less than the {known} read on {day}, with only {gap} between them")
    return _("{hours} is {step} less than the {known} read on {day}, but both at the same moment")


def _backwards(hours: float, day: float, known: Point, zone: tzinfo) -> str:
    """Say, without a full stop, that hours can't go down from one reading to the other."""
    on, at, then = _day(known[0], zone), _clock(day, zone), _clock(known[0], zone)
    if _day(day, zone) == on:
        finding = (
            _("{hours} at {time} can't be right: {known} was read at the same time")
            if at == then
            else _("{hours} at {time} can't be right: {known} was read at {then}")
        )
    elif known[0] > day:
        finding = _("{hours} is more than the {known} read later, on {day}")
    else:
        finding = _("{hours} is less than the {known} read on {day}")
    return finding.format(hours=_h(hours), known=_h(known[1]), day=on, time=at, then=then)


def _wild(hours: float, day: float, before: Point, pace: float | None) -> bool:
    """Whether a step the clock allows, and so of more than two days, is far beyond what the machine does."""
    gap, gained = day - before[0], hours - before[1]
    if gained < 50:
        return False
    rate = gained / gap
    return rate > BUSY if pace is None else rate > max(8 * pace, 6.0)


def _meant(
    hours: float,
    day: float,
    before: Point | None,
    after: Point | None,
    pace: float | None,
) -> float | None:
    """The number one slip away that fits the neighbours best, or None if none fits well."""
    if before is None and after is None:
        return None
    for slips in _one_slip_away(hours):  # the commonest slip that fits is taken
        fitting = [
            (miss, other) for other in slips if (miss := _miss(other, day, before, after, pace)) is not None
        ]
        if fitting:
            return min(fitting)[1]
    return None


def _miss(
    other: float,
    day: float,
    before: Point | None,
    after: Point | None,
    pace: float | None,
) -> float | None:
    """How far ``other`` hours lie from what the neighbours and the pace suggest; None: they rule it out."""
    miss = 0.0
    usual = USUAL_PACE if pace is None else max(pace, 0.2)
    for known, sign in ((before, 1.0), (after, -1.0)):
        if known is None:
            continue
        gap, gained = sign * (day - known[0]), sign * (other - known[1])
        if not 0 <= gained <= min(CLOCK * gap + RESOLUTION, 4 * usual * gap + 12):
            return None
        miss += abs(gained - usual * gap)
    return miss


def _one_slip_away(hours: float) -> Iterator[set[float]]:
    """Numbers that one slip of the pen makes of ``hours``, commonest slip first.

    The point one place off; two neighbouring digits swapped; a digit too many; a digit too few.
    """
    yield {round(hours * 10, 1), round(hours / 10, 2)}
    digits = f"{round(hours * 10):d}"  # in tenths, the meter's last digit
    places = range(len(digits))
    yield {int(digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :]) / 10 for i in places[:-1]}
    yield {int(digits[:i] + digits[i + 1 :]) / 10 for i in places if len(digits) > 1}
    yield {int(digits[:i] + d + digits[i:]) / 10 for i in range(len(digits) + 1) for d in "0123456789"}
