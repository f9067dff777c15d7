"""The small picture of a machine's hours: what was read, the fan ahead, and the mark it leads up to.

The drawing is laid out in a square of 100 by 100 that the page stretches; labels stand beside it, along x in
per cent and along y in pixels. The fan ends at the mark, on whose line its upper edge lies.
"""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from servicing.duties.explanation import Fan

FURTHEST = 400.0  # days: what lies beyond is cut at the edge
BEHIND = 14.0, 120.0  # days shown behind: at least, at most; between them twice what is shown ahead
TOP, TALL = 22, 150  # pixels: where the square begins on the page, and how high it is
ROOM = 0.14  # of the hours shown, left free above the mark for its words
STEPS_OF_DAYS = 1, 2, 7, 14, 28, 56, 112, 182
MOST_HOURS, MOST_DAYS = 5, 7  # figures at an axis, or so
BESIDE = 12  # per cent of the height: no figure stands nearer to the mark's


@dataclass(frozen=True)
class Tick:
    """A figure at an axis: hours at the left, in per cent and in pixels from the top."""

    y: float
    label_y: float
    hours: float


@dataclass(frozen=True)
class Day:
    """A day at the lower axis, in per cent from the left."""

    x: float
    day: date


@dataclass(frozen=True)
class Picture:
    """Points as SVG writes them; `_x`, `_y`, `mark_from` and so on in per cent, `label_y` in pixels."""

    past: str
    area: str
    likely: str
    today_x: float
    mark_y: float
    mark_label_y: float
    mark_from: float
    mark_to: float
    mark_tick: float | None
    now_y: float
    hours: list[Tick]
    days: list[Day]
    top: int = TOP
    tall: int = TALL


def picture(fan: Fan, *, today: date) -> Picture:
    """Lay the fan out. Hours grow upwards, days to the right from before today."""
    ends = fan.late[np.isfinite(fan.late)]
    right = float(min(ends.max(initial=14.0) * 1.08, FURTHEST))
    left = -float(np.clip(2 * right, *BEHIND))
    shown = fan.past_day >= left
    shown[-2:] = True  # the last two, however old
    past_day, past_hours = fan.past_day[shown], fan.past_hours[shown]
    left = min(left, float(past_day.min(initial=left)))
    low = float(min(past_hours.min(initial=fan.hours[0]), fan.hours[0]))
    high = fan.mark + ROOM * (fan.mark - low)

    def x(days: np.ndarray | float) -> np.ndarray:
        return np.clip(100 * (np.minimum(days, right) - left) / (right - left), 0, 100)

    def y(hours: np.ndarray | float) -> np.ndarray:
        return 100 - 100 * (np.asarray(hours) - low) / max(high - low, 1e-9)

    start_hours = past_hours[-1] if len(past_hours) else low
    hours = np.concatenate([[start_hours], fan.hours])
    zero = np.zeros(1)
    early, likely, late = (
        np.concatenate([zero, np.minimum(days, right)]) for days in (fan.early, fan.likely, fan.late)
    )
    at = [float(np.interp(fan.mark, hours, days)) for days in (early, likely, late)]
    mark_y = round(float(y(fan.mark)), 2)
    return Picture(
        past=_points(x(past_day), y(past_hours)),
        area=_points(np.concatenate([x(early), x(late[::-1])]), np.concatenate([y(hours), y(hours[::-1])])),
        likely=_points(x(likely), y(hours)),
        today_x=round(float(x(0.0)), 2),
        mark_y=mark_y,
        mark_label_y=_pixels(mark_y),
        mark_from=round(float(x(at[0])), 2),
        mark_to=round(float(x(at[2])), 2),
        mark_tick=round(float(x(at[1])), 2) if at[1] < right else None,
        now_y=round(float(y(start_hours)), 2),
        hours=[
            Tick(place, _pixels(place), figure)
            for figure in _round_figures(low, fan.mark)
            for place in [round(float(y(figure)), 2)]
            if place - mark_y >= BESIDE
        ],
        days=[
            Day(place, today + timedelta(days=number))
            for number in _round_days(left, right)
            for place in [round(float(x(float(number))), 2)]
            if 5 <= place <= 95
        ],
    )


def _round_figures(low: float, high: float) -> list[float]:
    """Round figures between two, at most `MOST_HOURS`: steps of 1, 2 or 5 with noughts."""
    step = 10.0 ** np.floor(np.log10(max(high - low, 0.1)) - 1)
    factor = next(each for each in (1, 2, 5, 10, 20, 50) if (high - low) / (step * each) <= MOST_HOURS)
    step *= factor
    return [float(figure) for figure in np.arange(np.ceil(low / step) * step, high + step / 1000, step)]


def _round_days(left: float, right: float) -> range:
    """Days from today in even steps, at most `MOST_DAYS` or so, today among them."""
    step = next((each for each in STEPS_OF_DAYS if (right - left) / each <= MOST_DAYS), STEPS_OF_DAYS[-1])
    return range(int(left // step) * step, int(right) + 1, step)


def _pixels(place: float) -> float:
    return round(TOP + TALL * place / 100, 1)


def _points(x: np.ndarray, y: np.ndarray) -> str:
    return " ".join(f"{a:.2f},{b:.2f}" for a, b in zip(x, y, strict=True))
