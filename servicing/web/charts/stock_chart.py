"""How long a part's stock is likely to last: a small bar on the list, and its steps down on its own page."""

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.core.wording import day
from fleet.usage.figures import TIGHT, grouped
from servicing.ledger.stock_course import StockCourse
from servicing.web.charts.axis import Frame, Scale, Tick, apart, calendar_days, kept_inside, round_figures

TOP, BOTTOM, HEIGHT = 28, 168, 214  # pixels
ROOM = 0.16  # of the amounts shown, left free above the highest


@dataclass(frozen=True)
class Cover:
    """How long a stock lasts, in words and as a bar.

    width: per cent of the days looked at, from today, None where no use is likely; ends: it is used up there.
    short: open orders ask for more than there is.
    """

    words: str
    width: float | None = None
    ends: bool = False
    short: bool = False


@dataclass(frozen=True)
class Week:
    """Seven days in which some is likely used: the first of them, how much, and what is left then."""

    first: date
    used: str
    left: str


@dataclass(frozen=True)
class StockChart:
    """The steps as SVG writes points; x in per cent, y in pixels.

    none_y: where nothing is left. reorder: the reorder point in words, and where it lies. used_up: the day in
    words where the steps meet that.
    """

    frame: Frame
    steps: str
    none_y: float
    reorder: Tick | None
    used_up: Tick | None
    weeks: list[Week]


def cover(course: StockCourse, *, unit: str, today: date) -> Cover:
    """Say how long a stock lasts."""
    if course.free < 0:
        short = _("{amount} short for open orders").format(amount=amount(-course.free, unit))
        return Cover(short, 0, short=True)
    if not course.steps:
        return Cover(_unused(course))
    if not course.free:
        needed = day(today + timedelta(days=course.steps[0].day))
        return Cover(_("none free, needed about {day}").format(day=needed), 0, ends=True)
    if course.used_up is None:
        lasts = ngettext("lasts more than {number} day", "lasts more than {number} days", course.days)
        return Cover(lasts.format(number=course.days), 100)
    width = Scale(0, course.days, 0, 100)(course.used_up)
    return Cover(_runs_out(today + timedelta(days=course.used_up)), width, ends=True)


def _unused(course: StockCourse) -> str:
    if course.free:
        none = ngettext("no use likely in {number} day", "no use likely in {number} days", course.days)
    else:
        none = ngettext(
            "none free; no use likely in {number} day",
            "none free; no use likely in {number} days",
            course.days,
        )
    return none.format(number=course.days)


def _runs_out(on: date) -> str:
    return _("runs out about {day}").format(day=day(on))


def in_words(course: StockCourse, *, unit: str, reorder_point: float, today: date) -> str:
    """Say when a stock falls to its reorder point, and what is short at the end, where that is so."""
    said, level = [], amount(reorder_point, unit)
    falls = course.falls_to(reorder_point) if reorder_point else None
    if falls:
        at_it = _("At the reorder point of {amount} about {day}.")
        said.append(at_it.format(amount=level, day=day(today + timedelta(days=falls))))
    elif falls == 0 and course.free >= 0:
        said.append(_("At or below the reorder point of {amount}.").format(amount=level))
    if course.left < min(course.free, 0.0):
        end = day(today + timedelta(days=course.days))
        said.append(_("About {amount} short by {day}.").format(amount=amount(-course.left, unit), day=end))
    return " ".join(said)


def stock_chart(course: StockCourse, *, unit: str, reorder_point: float, today: date) -> StockChart | None:
    """Draw the steps; None where no use is likely."""
    if not course.steps:
        return None
    low, high = min(course.left, 0.0), max(course.free, reorder_point, 0.0)
    across = Scale(0, course.days, 0, 100)
    up = Scale(low, high + ROOM * (high - low), BOTTOM, TOP)
    places = [(0.0, up(course.free))]
    for step in course.steps:
        places += [(across(step.day), places[-1][1]), (across(step.day), up(step.left))]
    places.append((100.0, places[-1][1]))
    end = course.used_up
    used_up = (
        kept_inside(across(end), _runs_out(today + timedelta(days=end)))
        if end is not None and course.free > 0
        else None
    )
    days = calendar_days(today + timedelta(days=1), today + timedelta(days=course.days))
    ticks = (Tick(across((each.day - today).days), each.label) for each in days)
    return StockChart(
        frame=Frame(
            up=[Tick(up(figure), words) for figure, words in round_figures(low, high)],
            across=apart(ticks, clear_of=used_up.at if used_up else None),
            unit=unit,
            top=TOP,
            bottom=BOTTOM,
            height=HEIGHT if used_up else BOTTOM + 28,
        ),
        steps=" ".join(f"{x:.2f},{y:.2f}" for x, y in places),
        none_y=up(0),
        reorder=Tick(up(reorder_point), _("Reorder at {amount}").format(amount=amount(reorder_point, unit)))
        if reorder_point
        else None,
        used_up=used_up,
        weeks=_weeks(course, unit, today),
    )


def amount(value: float, unit: str) -> str:
    """An amount with its unit, to a tenth where it isn't whole."""
    return f"{grouped(value, 0 if abs(value - round(value)) < 0.05 else 1)}{TIGHT}{unit}"


def _weeks(course: StockCourse, unit: str, today: date) -> list[Week]:
    found, before = [], course.free
    for week, steps in groupby(course.steps, key=lambda step: step.day // 7):
        left = list(steps)[-1].left
        found.append(Week(today + timedelta(days=7 * week), amount(before - left, unit), amount(left, unit)))
        before = left
    return found
