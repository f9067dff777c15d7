"""A small picture of what would be counted of each machine that has no reading yet."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from fleet.imports.first_readings import Course

WIDE, TALL = 96, 30  # pixels
EDGE = 3  # pixels around the dots


@dataclass(frozen=True, slots=True)
class Picture:
    """One machine: its dots in pixels, the line through them, and its first and last figure."""

    machine: str
    dots: list[tuple[float, float]]
    line: str
    first: tuple[datetime, Decimal]
    last: tuple[datetime, Decimal]
    many: int
    falls: bool
    wide: int = WIDE
    tall: int = TALL


def pictures(courses: Sequence[Course]) -> list[Picture]:
    """Draw each course from its first day to its last, and from its least figure to its greatest."""
    return [_picture(course) for course in courses if course.points]


def _picture(course: Course) -> Picture:
    days = [at.timestamp() for at, _shows in course.points]
    hours = [float(shows) for _at, shows in course.points]
    dots = [
        (
            round(_place(day, days, WIDE), 1),
            round(TALL - _place(hour, hours, TALL), 1),
        )
        for day, hour in zip(days, hours, strict=True)
    ]
    line = " ".join(f"{x},{y}" for x, y in dots)
    first, last = course.points[0], course.points[-1]
    return Picture(course.machine, dots, line, first, last, len(dots), course.falls)


def _place(value: float, among: list[float], size: int) -> float:
    least, most = min(among), max(among)
    share = 0.5 if most == least else (value - least) / (most - least)
    return EDGE + share * (size - 2 * EDGE)
