"""The sparkline beside a machine on a list: the hours it ran in each of its last weeks, as small bars."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import ngettext

from fleet.usage.figures import TIGHT, from_to, grouped
from servicing.web.charts.axis import Scale

WEEKS = 12
LEAST = 4  # weeks that must be known, else nothing is drawn
STEP, BAR = 5, 4  # pixels from one bar to the next, and of a bar
TALL = 18  # pixels
FINE_BELOW = 10  # hours: below these a tenth is worth saying


@dataclass(frozen=True)
class Bar:
    """One week, in pixels; a week without hours is a hair above the ground."""

    x: int
    y: float
    height: float


@dataclass(frozen=True)
class Sparkline:
    """The bars of the weeks that are known, as high as each is beside the busiest, and the same in words."""

    bars: list[Bar]
    words: str
    width: int = WEEKS * STEP - (STEP - BAR)
    tall: int = TALL
    bar: int = BAR


def sparkline(weeks: Sequence[Decimal | None]) -> Sparkline | None:
    """Draw hours a week, the earliest first; None for a week leaves its place empty.

    None where fewer than LEAST weeks are known.
    """
    known = [(place, hours) for place, hours in enumerate(weeks) if hours is not None]
    if len(known) < LEAST:
        return None
    most = max(hours for _place, hours in known)
    up = Scale(0, float(most), 1, TALL)
    bars = [
        Bar(place * STEP, round(TALL - tall, 2), tall)
        for place, hours in known
        for tall in [up(float(hours))]
    ]
    places = 1 if 0 < most < FINE_BELOW else 0
    least, most_said, last = (
        grouped(hours, places) for hours in (min(hours for _place, hours in known), most, known[-1][1])
    )
    span = f"{most_said}{TIGHT}h"
    if least != most_said:
        span = from_to(least, span)
    words = ngettext(
        "Hours a week, last {number} week: {hours}, lately {lately}",
        "Hours a week, last {number} weeks: {hours}, lately {lately}",
        len(weeks),
    ).format(number=len(weeks), hours=span, lately=f"{last}{TIGHT}h")
    return Sparkline(bars, words)
