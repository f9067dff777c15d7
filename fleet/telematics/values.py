"""Values of a snapshot, believed only when they can be read: hours, places, shares of a tank."""

import re
from datetime import datetime, timedelta
from decimal import Decimal

from fleet.core.number_reader import read_plain
from fleet.readings.submission import Unreadable, read_hours, read_moment
from fleet.telematics.snapshot import Timed

DURATION = re.compile(
    r"P(?=\d|T\d)(?:(\d{1,7})D)?(?:T(?=\d)(?:(\d{1,9}(?:\.\d{1,9})?)H)?"
    r"(?:(\d{1,9}(?:\.\d{1,9})?)M)?(?:(\d{1,9}(?:\.\d{1,9})?)S)?)?",
    re.ASCII,
)
"""ISO 8601 duration of days, hours, minutes and seconds, as AEMP 1.2 writes hours: PT13H28M30S, 13.475 h."""

AHEAD = timedelta(minutes=10)  # a clock may be that much fast


def hours_of(text: str) -> Decimal:
    """Read cumulative hours, a number or a duration. Raises Unreadable."""
    found = DURATION.fullmatch(text)
    if found is None:
        return read_hours(text)
    days, hours, minutes, seconds = (Decimal(each or 0) for each in found.groups())
    return read_hours(days * 24 + hours + minutes / 60 + seconds / 3600)


def moment_of(timed: Timed, *, now: datetime) -> datetime | None:
    """Return the value's own time; None when it has none that can be read, or one that is yet to come."""
    try:
        moment = read_moment(timed.at)
    except Unreadable:
        return None
    return moment if moment <= now + AHEAD else None


def number_of(timed: Timed | None, *, least: int, most: int, places: int) -> Decimal | None:
    """Read a number within bounds, to so many places; None when it can't be one."""
    number = None if timed is None else read_plain(timed.value)
    if number is None or not least <= number <= most:
        return None
    return number.quantize(Decimal(1).scaleb(-places))
