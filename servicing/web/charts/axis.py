"""What the axes of all charts share: scales, round figures, days of the calendar, labels that keep apart.

Places run along x in per cent of the plane's width and along y in pixels, so that text keeps its size on a
phone. Labels are laid out for the narrowest phone: what fits there fits everywhere.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor, log10

from fleet.usage.figures import ISO, TIGHT, grouped, month_in_short, short_day, writing

NARROW = 204  # pixels: the plane of a chart where a page is 320 wide
LETTER, BOLD = 7.0, 8.5  # pixels a letter of a label takes on average; of one that stands out
BETWEEN = 10  # pixels kept free between two labels
EDGE = 28  # pixels beside the plane, in charts.css, that a label may stand in

DAYS = (1, 2, 7, 14)  # steps of days; from 7 on they begin on Mondays
MONTHS = (1, 3, 6, 12, 24, 60)  # steps of months, the first of them; from 12 on Januaries
MONTH_LETTERS = 4  # of `Dec` or a year
A_DAY = date(2000, 12, 28)  # as wide as any day
DAYS_A_MONTH = 365.25 / 12


class Scale:
    """Values to places, kept between `low` and `high`; where all values are one, it lies at `low`."""

    def __init__(self, start: float, end: float, low: float, high: float) -> None:
        self.start, self.end, self.low, self.high = start, end, low, high

    def __call__(self, value: float) -> float:
        if self.end == self.start:
            return self.low
        share = min(max((value - self.start) / (self.end - self.start), 0.0), 1.0)
        return round(self.low + share * (self.high - self.low), 2)


@dataclass(frozen=True)
class Tick:
    """A figure or a day at an axis: where, in per cent or in pixels, and what it says.

    anchor: which end of the words stands there, as SVG names it.
    """

    at: float
    label: str
    anchor: str = "middle"


@dataclass(frozen=True)
class CalendarDay:
    """A day that an axis names: in words, `14 Dec`, `Feb` or `2028`, and of a January its year."""

    day: date
    words: str
    year: str = ""

    @property
    def label(self) -> str:
        """The words with the year."""
        return f"{self.words}{TIGHT}{self.year}" if self.year else self.words


@dataclass(frozen=True)
class Frame:
    """The axes of a chart.

    up: figures at the left, y in pixels, and their unit; across: days or hours below, x in per cent.
    top, bottom: pixels between which the plane lies; height: of the whole picture.
    """

    up: list[Tick]
    across: list[Tick]
    unit: str
    top: int
    bottom: int
    height: int

    @property
    def unit_y(self) -> int:
        """Where the unit stands: above the figures."""
        return self.top - 10

    @property
    def tick_to(self) -> int:
        """How far down the ticks of the lower axis reach."""
        return self.bottom + 5

    @property
    def label_y(self) -> int:
        """Where the words below the plane stand."""
        return self.bottom + 18

    @property
    def second_y(self) -> int:
        """How far down a line runs to words below these."""
        return self.bottom + 24

    @property
    def second_label_y(self) -> int:
        """Where words below these stand."""
        return self.bottom + 38


def round_step(reach: float, most: int) -> float:
    """Return the least of 1, 2 or 5 with noughts of which at most `most` fit into `reach`.

    Nice numbers: P. Heckbert, "Nice Numbers for Graph Labels", Graphics Gems, 1990 (from memory).
    """
    if reach <= 0:
        return 1.0
    power = 10.0 ** floor(log10(reach / most))
    return next(power * each for each in (1, 2, 5, 10) if reach / (power * each) <= most + 1e-9)


def round_figures(low: float, high: float, most: int = 5) -> list[tuple[float, str]]:
    """Return the round figures from `low` to `high`, each as a number and as written; at most `most` + 1."""
    step = round_step(high - low, most)
    places = max(0, -floor(log10(step) + 1e-9))
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    return [
        (figure, grouped(figure, places))
        for number in range(first, last + 1)
        for figure in [round(number * step, places)]
    ]


def calendar_days(
    first: date, last: date, *, room: float = NARROW, letter: float = LETTER
) -> list[CalendarDay]:
    """Return days from first to last at one step of the calendar, the finest whose words fit into `room`.

    Steps are days, Mondays, the first of each month, quarter or half-year, and Januaries. room, letter: in
    pixels.
    """
    reach = (last - first).days
    letters = len(_day(A_DAY))
    for step in DAYS:
        if reach / step * (letters * letter + BETWEEN) <= room:
            return [CalendarDay(each, _day(each)) for each in _every(first, last, step)]
    for months in MONTHS:
        if reach / (months * DAYS_A_MONTH) * (MONTH_LETTERS * letter + BETWEEN) <= room:
            break
    return [_month(each, months) for each in _firsts(first, last, months)]


def apart(ticks: Iterable[Tick], *, clear_of: float | None = None, room: float = NARROW) -> list[Tick]:
    """Return the ticks whose words, centred below them, neither meet nor leave the picture; the first stay.

    clear_of: where a line runs down through the words, in per cent.
    """
    kept: list[Tick] = []
    free_from = -float(EDGE)
    for tick in ticks:
        middle, half = tick.at * room / 100, len(tick.label) * LETTER / 2
        crossed = clear_of is not None and abs(clear_of * room / 100 - middle) < half + BETWEEN / 2
        if not crossed and middle - half >= free_from and middle + half <= room + EDGE:
            kept.append(tick)
            free_from = middle + half + BETWEEN / 2
    return kept


def kept_inside(at: float, label: str, *, room: float = NARROW) -> Tick:
    """Return a tick whose bold words begin or end there where, centred, they would leave the picture."""
    middle, half = at * room / 100, len(label) * BOLD / 2
    if middle - half < -EDGE:
        return Tick(at, label, "start")
    return Tick(at, label, "end" if middle + half > room + EDGE else "middle")


def _every(first: date, last: date, step: int) -> list[date]:
    """Every so many days: one that comes round every week on Mondays, which day 1 of the calendar was."""
    begin = first + timedelta(days=(1 - first.toordinal()) % step)
    return [begin + timedelta(days=n) for n in range(0, (last - begin).days + 1, step)]


def _firsts(first: date, last: date, months: int) -> list[date]:
    """The first day of every so many months, counted from a January."""
    number = first.year * 12 + first.month - 1 + (first.day > 1)
    number += -number % months
    found = []
    while (day := date(number // 12, number % 12 + 1, 1)) <= last:
        found.append(day)
        number += months
    return found


def _month(day: date, months: int) -> CalendarDay:
    if months >= 12:
        return CalendarDay(day, str(day.year))
    return CalendarDay(day, month_in_short(day), str(day.year) if day.month == 1 else "")


def _day(day: date) -> str:
    return f"{day:%m-%d}" if writing().days == ISO else short_day(day, year=False)
