"""The small picture of a machine's hours: what was read, the fan ahead, and the mark.

The drawing is laid out in a square of 100 by 100 that the page stretches; labels stand beside it in per cent.
"""

from dataclasses import dataclass

import numpy as np

from servicing.explain import Fan

FURTHEST = 400.0  # days: what lies beyond is cut at the edge


@dataclass(frozen=True)
class Picture:
    """Points as SVG writes them, and where labels stand, in per cent."""

    past: str
    area: str
    likely: str
    today_x: float
    mark_y: float
    mark_from: float
    mark_to: float
    mark_tick: float | None
    now_y: float


def picture(fan: Fan) -> Picture:
    """Lay the fan out. Hours grow upwards, days to the right."""
    ends = fan.late[np.isfinite(fan.late)]
    right = float(min(ends.max(initial=14.0) * 1.05, FURTHEST))
    left = float(min(fan.past_day.min(initial=-14.0), -7.0))
    low = float(min(fan.past_hours.min(initial=fan.hours[0]), fan.hours[0]))
    high = float(fan.hours[-1])

    def x(days: np.ndarray | float) -> np.ndarray:
        return np.clip(100 * (np.minimum(days, right) - left) / (right - left), 0, 100)

    def y(hours: np.ndarray | float) -> np.ndarray:
        return 100 - 100 * (np.asarray(hours) - low) / max(high - low, 1e-9)

    start_hours = fan.past_hours[-1] if len(fan.past_hours) else low
    hours = np.concatenate([[start_hours], fan.hours])
    zero = np.zeros(1)
    early, likely, late = (
        np.concatenate([zero, np.minimum(days, right)]) for days in (fan.early, fan.likely, fan.late)
    )
    at = [float(np.interp(fan.mark, hours, days)) for days in (early, likely, late)]
    return Picture(
        past=_points(x(fan.past_day), y(fan.past_hours)),
        area=_points(np.concatenate([x(early), x(late[::-1])]), np.concatenate([y(hours), y(hours[::-1])])),
        likely=_points(x(likely), y(hours)),
        today_x=round(float(x(0.0)), 2),
        mark_y=round(float(y(fan.mark)), 2),
        mark_from=round(float(x(at[0])), 2),
        mark_to=round(float(x(at[2])), 2),
        mark_tick=round(float(x(at[1])), 2) if at[1] < right else None,
        now_y=round(float(y(start_hours)), 2),
    )


def _points(x: np.ndarray, y: np.ndarray) -> str:
    return " ".join(f"{a:.2f},{b:.2f}" for a, b in zip(x, y, strict=True))
