"""A small picture of one measured value over machine hours."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleet.usage.figures import TIGHT, hours, marked
from servicing.duties.value_trends import Series
from servicing.measurements import limits
from servicing.web.charts.axis import Frame, Scale, Tick, apart, round_figures

TOP, BOTTOM, HEIGHT = 28, 158, 186  # pixels
BELOW = 14  # pixels below the values, for the words of a lower limit
LEFT, RIGHT = 1.5, 98.5  # per cent: between them lie the values
MOST_VALUES, MOST_HOURS = 4, 4  # figures at an axis, or so
ROOM = 0.12  # of the values' spread, left free above and below
BENDS = 24  # pieces that a bent path is drawn in
AHEAD = 0.35  # of the hours shown: so far the picture runs on beyond today for a crossing


@dataclass(frozen=True)
class Dot:
    """One value: as found, or as left after an adjustment."""

    x: float
    y: float
    title: str
    left: bool = False
    outside: bool = False


@dataclass(frozen=True)
class Stroke:
    """A straight line between two places."""

    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True)
class Level:
    """A limit: where it lies, and what it says."""

    y: float
    label: str
    upper: bool

    @property
    def label_y(self) -> float:
        """Where its words stand: outside the values that pass."""
        return self.y - 7 if self.upper else self.y + 16


@dataclass(frozen=True)
class Plot:
    """The whole picture; `reach`: where the interval of the crossing lies on the limit.

    trend: the path as SVG writes points; x in per cent, y in pixels.
    """

    levels: list[Level]
    lines: list[Stroke]
    drops: list[Stroke]
    dots: list[Dot]
    trend: str
    reach: Stroke | None
    now_x: float
    frame: Frame


def draw(series: Series, now: float) -> Plot:
    """Lay out the picture of a series with values, the machine standing at `now` total hours."""
    points, crossing = series.points, series.outlook.crossing or series.outlook.vague
    start, end = points[0].hours, max(points[-1].hours, now)
    if crossing:
        end = max(end, min(crossing.late, end + AHEAD * (end - start)))
    across = Scale(start, end, LEFT, RIGHT)
    bounds = [limit for limit in (series.check.lower, series.check.upper) if limit is not None]
    values = [
        *(p.found for p in points),
        *(p.left for p in points if p.left is not None),
        *map(float, bounds),
    ]
    room = ROOM * ((max(values) - min(values)) or 1.0)
    up = Scale(min(values) - room, max(values) + room, BOTTOM - BELOW, TOP)
    dots, lines, drops = _values(series, across, up)
    limit = series.check.upper if crossing and crossing.upper else series.check.lower
    return Plot(
        levels=[
            Level(
                up(float(bound)), f"{marked(limits.plain(bound))} {series.unit}", bound == series.check.upper
            )
            for bound in bounds
        ],
        lines=lines,
        drops=drops,
        dots=dots,
        trend=_trend(series, across, up),
        reach=(
            Stroke(across(crossing.early), up(float(limit)), across(crossing.late), up(float(limit)))
            if crossing and limit is not None
            else None
        ),
        now_x=across(now),
        frame=Frame(
            up=[Tick(up(figure), words) for figure, words in round_figures(up.start, up.end, MOST_VALUES)],
            across=_hours(start, end, across),
            unit=series.unit,
            top=TOP,
            bottom=BOTTOM,
            height=HEIGHT,
        ),
    )


def _values(series: Series, across: Scale, up: Scale) -> tuple[list[Dot], list[Stroke], list[Stroke]]:
    dots, lines, drops = [], [], []
    last: tuple[float, float] | None = None

    def value(figure: float) -> str:
        return f"{marked(f'{figure:g}')} {series.unit}"

    for point in series.points:
        x, y = across(point.hours), up(point.found)
        title = _("Found {value} at {hours}").format(value=value(point.found), hours=hours(point.hours))
        dots.append(Dot(x, y, title, outside=series.is_outside(point.found)))
        if last:
            lines.append(Stroke(*last, x, y))
        last = (x, y)
        if point.left is not None:
            last = (x, up(point.left))
            dots.append(Dot(*last, _("Left at {value}").format(value=value(point.left)), left=True))
            drops.append(Stroke(x, y, *last))
    return dots, lines, drops


def _trend(series: Series, across: Scale, up: Scale) -> str:
    """The path from the run's first value to the crossing, or to the last value where there is none."""
    path, crossing = series.outlook.path, series.outlook.crossing
    if path is None:
        return ""
    first, last = series.outlook.run[0][0], series.outlook.run[-1][0]
    to = min(crossing.hours, across.end) if crossing else last
    pieces = BENDS if series.outlook.halves else 1
    places = (first + (to - first) * n / pieces for n in range(pieces + 1))
    return " ".join(f"{across(place)},{up(path.at(place))}" for place in places)


def _hours(start: float, end: float, across: Scale) -> list[Tick]:
    figures = round_figures(start, end, MOST_HOURS) if end > start else [(start, marked(f"{start:g}"))]
    return apart(Tick(across(figure), f"{words}{TIGHT}h") for figure, words in figures)
