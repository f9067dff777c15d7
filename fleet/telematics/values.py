"""Values of a snapshot, believed only when they can be read: hours, moments, places, shares of a tank."""

import contextlib
import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from email.utils import parsedate_to_datetime

from django.utils.translation import gettext as _

from fleet.core.moment_reader import read_iso
from fleet.core.number_reader import read_marked, read_plain
from fleet.readings.submission import Unreadable, read_hours, read_moment
from fleet.telematics.snapshot import Timed

FIGURE = r"(\d{1,9}(?:[.,]\d{1,30})?)"
DURATION = re.compile(
    r"P(?=\d|T\d)(?:0+Y)?(?:0+M)?(?:(\d{1,7})D)?(?:T(?=\d)(?:"
    + FIGURE
    + r"H)?(?:"
    + FIGURE
    + r"M)?(?:"
    + FIGURE
    + r"S)?)?",
    re.ASCII,
)
"""ISO 8601 duration of days, hours, minutes and seconds, as AEMP 1.2 writes hours: PT13H28M30S, 13.475 h.

Years and months have no length in hours: only none of them can be read.
"""
AN_HOUR = {  # how many of a unit make an hour, by its names in letters alone
    **dict.fromkeys(
        (
            "",
            "h",
            "hr",
            "hrs",
            "hour",
            "hours",
            "std",
            "stunde",
            "stunden",
            "heure",
            "heures",
            "uur",
            "uren",
            "decimalhours",
        ),
        1,
    ),
    **dict.fromkeys(("min", "mins", "minute", "minutes", "minuten"), 60),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds", "sekunden"), 3600),
}
NUMBER = re.compile(r"[+-]?(?:\d{1,40}(?:\.\d{0,60})?|\.\d{1,60})(?:[eE][+-]?\d{1,3})?", re.ASCII)
"""A number as programs write it: with many places, or with an exponent."""
COMMA = re.compile(r"\d{1,9},(?:\d{1,2}|\d{4,30})", re.ASCII)
"""Whose comma can only be a decimal mark: it doesn't part three figures."""
PARTED = re.compile(
    r"\d{1,3}(?:,\d{3})+\.\d{1,12}|\d{1,3}(?:\.\d{3})+,\d{1,12}|\d{1,3}(?:[\s']\d{3})+(?:[.,]\d{1,12})?"
)
"""Thousands that are parted, in a way that leaves no doubt which mark is the decimal one."""
WITH_UNIT = re.compile(r"(.*?\d\.?)\s*([^\W\d_][^\d,]*)")
MOST_DIGITS = 60
EPOCH = re.compile(r"(?:/Date\()?(\d{10}|\d{13})(?:\)/)?", re.ASCII)
"""Seconds or milliseconds since 1970-01-01 UTC, bare or as some programs write them in JSON."""
MIDNIGHT = re.compile(r"^(\d{4}-\d\d-\d\d)[T ]24(:00(?::00(?:\.0+)?)?(?![\d.:]))", re.ASCII)
"""The end of a day, as ISO 8601 may write it: 24:00 is 0:00 of the next."""
ZONE_NAMES = re.compile(r"\s*(?:UTC|GMT|Z)$", re.IGNORECASE)

AHEAD = timedelta(minutes=10)  # a clock may be that much fast


def hours_of(text: str) -> Decimal:
    """Read cumulative hours: a number, with its unit behind it where that isn't hours, or a duration.

    Raises Unreadable.
    """
    text = text.strip()
    if found := DURATION.fullmatch(text):
        days, hours, minutes, seconds = (Decimal((each or "0").replace(",", ".")) for each in found.groups())
        return read_hours(days * 24 + hours + minutes / 60 + seconds / 3600)
    if (named := WITH_UNIT.fullmatch(text)) is None:
        return read_hours(_figure(text))
    a_unit = AN_HOUR.get("".join(each for each in named[2].lower() if each.isalpha()))
    if a_unit is None:
        said = _("The hours are told in a unit that can't be read: {unit}.").format(unit=repr(named[2][:40]))
        raise Unreadable("unreadable_hours", said)
    figure = _figure(named[1])
    return read_hours(Decimal(figure) / a_unit if isinstance(figure, Decimal) else figure)


def _figure(text: str) -> Decimal | str:
    """A number as programs and people write it where that can be read in one way; else the text itself."""
    if NUMBER.fullmatch(text):
        number = Decimal(text)
        return number if abs(number.adjusted()) < MOST_DIGITS or not number else text
    if COMMA.fullmatch(text):
        return Decimal(text.replace(",", "."))
    mark = max(".,", key=text.rfind)
    if PARTED.fullmatch(text) and (marked := read_marked(text, mark)) is not None:
        return marked
    return text


def told_moment(text: str) -> datetime | None:
    """Return the moment a text tells; one without a zone is in UTC, which the standard asks for. None where
    it can't be read.
    """
    text = text.strip()
    if epoch := EPOCH.fullmatch(text):
        seconds = int(epoch[1]) / (1000 if len(epoch[1]) == 13 else 1)
        return datetime.fromtimestamp(seconds, UTC)
    written = re.sub(r"^(\d{4})/(\d\d)/(\d\d)", r"\1-\2-\3", ZONE_NAMES.sub("Z", text))
    written = re.sub(r"\s+(?=[+-]\d\d:?\d\d$)", "", written)
    moment = read_iso(MIDNIGHT.sub(r"\1T00\2", written))
    if moment is None and text[:3].isalpha():  # as in a mail (RFC 5322)
        with contextlib.suppress(TypeError, ValueError, IndexError):
            moment = parsedate_to_datetime(text)
    if moment is None:
        return None
    try:
        if MIDNIGHT.match(written):
            moment += timedelta(days=1)
        return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
    except OverflowError:  # at either end of the calendar
        return None


def read_told(text: str) -> datetime:
    """Read the moment of hours. Raises Unreadable."""
    if not text.strip():
        return read_moment(None)
    return read_moment(told_moment(text) or text)


def moment_of(timed: Timed, *, now: datetime) -> datetime | None:
    """Return the value's own time; None when it has none that can be read, or one that is yet to come."""
    try:
        moment = read_told(timed.at)
    except Unreadable:
        return None
    return moment if moment <= now + AHEAD else None


def number_of(timed: Timed | None, *, least: int, most: int, places: int) -> Decimal | None:
    """Read a number within bounds, to so many places; None when it can't be one."""
    number = None if timed is None else read_plain(timed.value)
    if number is None or not least <= number <= most:
        return None
    return number.quantize(Decimal(1).scaleb(-places))
