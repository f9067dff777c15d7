"""The picture of a machine's hours: what was read, the fan ahead, and the due hours it leads up to.

The fan begins at the last reading and ends on the line of the due hours; the frame is as wide as the late day
needs. Lines are laid out in a plane of 100 by its height in pixels that the page stretches across.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import floor, inf

import numpy as np
from django.utils.translation import gettext as _

from fleet.core.wording import day
from fleet.usage.crossing import HORIZON
from servicing.duties.explanation import Fan
from servicing.duties.projection import Days
from servicing.web.charts.axis import Frame, Scale, Tick, apart, calendar_days, kept_inside, round_figures

LEAST_AHEAD = 14.0  # days shown ahead
BEHIND = 14.0, 120.0  # days shown behind: at least, at most; between them twice what is shown ahead
BESIDE = 1.06  # times the furthest day of the fan: some room beside it
TOP, BOTTOM, HEIGHT = 28, 188, 234  # pixels; below the plane stand the days and the likely day
LEAST_HOURS = 1.0  # shown from the lowest hours to the due hours, however near these are
ROOM = 0.14  # of the hours shown, left free above the due hours for their words
MOST_DOTS = 60  # days with readings that are drawn as points

Course = tuple[list[float], list[float]]  # days from now, and the hours reached by then


@dataclass(frozen=True)
class Picture:
    """Points as SVG writes them; x in per cent, y in pixels.

    early, likely, late: the days on which the due hours are reached, None beyond three years. due_at: where
    the likely line meets them, with its day; None where that lies beyond.
    """

    frame: Frame
    past: str
    dots: list[tuple[float, float]]
    area: str
    ahead: str
    today_x: float
    mark_y: float
    due_at: Tick | None
    early: date | None
    likely: date | None
    late: date | None


def picture(fan: Fan, *, now: datetime, kept: Days | None = None) -> Picture:
    """Lay the fan out; hours grow upwards, days to the right from before `now`, in the yard's time.

    kept: the days as the page says them elsewhere, worked out when hours last moved or in the night.
    """
    midnight = (now.hour * 3600 + now.minute * 60 + now.second) / 86400
    reached = [_last(days) for days in (fan.early, fan.likely, fan.late)]
    right = BESIDE * max(LEAST_AHEAD, _furthest(fan))
    left = -min(max(2 * right, BEHIND[0]), BEHIND[1])
    shown = fan.past_day >= left
    shown[-2:] = True  # the last two, however old
    past: Course = fan.past_day[shown].tolist(), fan.past_hours[shown].tolist()
    left = min(left, *past[0], 0.0)
    low = min([*past[1], fan.have, fan.mark - LEAST_HOURS])
    across = Scale(left, right, 0, 100)
    up = Scale(low, fan.mark + ROOM * (fan.mark - low), BOTTOM, TOP)
    begin = (past[0][-1], past[1][-1]) if past[0] else (0.0, fan.have)
    early, likely, late = (
        _course(begin, fan.hours, days, right) for days in (fan.early, fan.likely, fan.late)
    )
    first, last = (now + timedelta(days=end) for end in (left, right))
    dates = kept or Days(*(_date(now.date(), midnight + days) for days in reached))
    in_sight = dates.likely is not None and reached[1] <= right
    likely_on = _("likely {day}").format(day=day(dates.likely))
    due_at = kept_inside(across(reached[1]), likely_on) if in_sight else None

    def points(course: Course) -> str:
        return " ".join(f"{across(a):.2f},{up(b):.2f}" for a, b in zip(*course, strict=True))

    return Picture(
        frame=Frame(
            up=[Tick(up(figure), words) for figure, words in round_figures(low, fan.mark)],
            across=apart(
                (
                    Tick(across((each.day - now.date()).days - midnight), each.label)
                    for each in calendar_days(first.date() + timedelta(days=1), last.date())
                ),
                clear_of=due_at.at if due_at else None,
            ),
            unit="h",
            top=TOP,
            bottom=BOTTOM,
            height=HEIGHT,
        ),
        past=points(past),
        dots=_dots(past, across, up),
        area=points((early[0] + late[0][::-1], early[1] + late[1][::-1])),
        ahead=points(likely),
        today_x=across(0),
        mark_y=up(fan.mark),
        due_at=due_at,
        early=dates.early,
        likely=dates.likely,
        late=dates.late,
    )


def _last(days: np.ndarray) -> float:
    return float(days[-1]) if len(days) else inf


def _furthest(fan: Fan) -> float:
    """The furthest day that any part of the fan reaches within three years."""
    days = np.concatenate([fan.early, fan.likely, fan.late])
    return float(days[days <= HORIZON].max(initial=0.0))


def _course(begin: tuple[float, float], hours: np.ndarray, days: np.ndarray, right: float) -> Course:
    """One edge of the fan, or its middle: from the last reading to the due hours or out of the picture.

    What is reached later than more hours are is drawn as reached with these. Hours not reached within three
    years are drawn as reached just after: the line leaves the picture below them.
    """
    known = np.where(days <= HORIZON, days, max(HORIZON, right) + 1)
    rising = np.minimum.accumulate(known[::-1])[::-1]
    x = [begin[0], *np.maximum(rising, begin[0]).tolist()]
    y = [begin[1], *hours.tolist()]
    inside = [at for at, each in enumerate(x) if each <= right]
    if len(inside) < len(x):
        beyond = inside[-1] + 1
        share = (right - x[beyond - 1]) / (x[beyond] - x[beyond - 1])
        cut = y[beyond - 1] + share * (y[beyond] - y[beyond - 1])
        return [*x[:beyond], right], [*y[:beyond], cut]
    return x, y


def _dots(past: Course, across: Scale, up: Scale) -> list[tuple[float, float]]:
    """The last reading of each day; none where there are too many to be told apart."""
    by_day = {floor(each): (across(each), up(hours)) for each, hours in zip(*past, strict=True)}
    return list(by_day.values()) if len(by_day) <= MOST_DOTS else []


def _date(today: date, days: float) -> date | None:
    return today + timedelta(days=floor(days)) if days < inf and floor(days) <= HORIZON else None
