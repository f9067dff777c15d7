"""Days as numbers: moments and dates counted from 1970-01-01 (UTC), as all of this package takes them."""

from datetime import UTC, date, datetime, timedelta
from math import isnan

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
DAY = timedelta(days=1)


def day_of(moment: datetime) -> float:
    """Return a moment as days since 1970-01-01 00:00 UTC, with the fraction."""
    return (moment - EPOCH) / DAY


def moment_of(day: float) -> datetime:
    """Return the moment so many days since 1970-01-01 00:00 UTC, in UTC and to the microsecond."""
    return EPOCH + day * DAY


def number_of(day: date) -> int:
    """Return a date as whole days since 1970-01-01."""
    return (day - EPOCH.date()).days


def date_of(number: float) -> date | None:
    """Return the date so many days since 1970-01-01; None for NaN."""
    return None if isnan(number) else EPOCH.date() + timedelta(days=int(number))
