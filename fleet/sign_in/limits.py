"""How many wrong passwords are too many, and how long the next one waits. Pure: counts in, a wait out.

A browser in which the person has signed in before has tries of its own, so that strangers who fail as often
as they like never keep it out (OWASP, "Slow Down Online Guessing Attacks with Device Cookies"). For others
three things are counted: wrong passwords for one name from one address, for any names from one address, and
for one name from all addresses. The first two make the address wait. The last only slows: one try a minute.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import Enum

PAIR = 5
"""Wrong passwords for one name from one address before it waits."""
ADDRESS = 30
"""Wrong passwords from one address, for whatever names."""
DEVICE = 10
"""Wrong passwords in a browser that knows the person; after that it is like any other for a while."""
WINDOW = timedelta(minutes=15)
"""How long a wrong password counts for these, from the last one on."""

ACCOUNT = 20
"""Wrong passwords for one name from all addresses before its tries are slowed."""
ACCOUNT_WINDOW = timedelta(hours=1)
ACCOUNT_PAUSE = timedelta(minutes=1)

CHECKS = 120
"""Passwords checked for one address in one stretch of WINDOW, right or wrong: each takes a slow hash."""
TOKENS = 30
"""Tokens that open nothing, from one address within WINDOW."""


class Why(Enum):
    """What makes somebody wait."""

    PAIR = "pair"
    ADDRESS = "address"
    ACCOUNT = "account"
    CHECKS = "checks"
    BUSY = "busy"
    TOKENS = "tokens"


@dataclass(frozen=True, slots=True)
class Wait:
    """Until when nothing is tried, and why."""

    until: datetime
    why: Why


@dataclass(frozen=True, slots=True)
class Guess:
    """Who is being guessed, from where, and in which known browser; `device` is empty for any other."""

    key: str
    network: str
    device: str = ""


@dataclass(frozen=True, slots=True)
class Tries:
    """Wrong passwords counted for one name, address and browser; the last at `last`."""

    key: str
    network: str
    device: str
    wrong: int
    last: datetime


def trusted(guess: Guess, tries: Iterable[Tries], now: datetime) -> bool:
    """Whether the browser knows the person and hasn't used up its own tries."""
    own = [each for each in tries if (each.key, each.device) == (guess.key, guess.device)]
    return bool(guess.device) and _wrong(own, now, WINDOW) < DEVICE


def wait(guess: Guess, tries: Sequence[Tries], now: datetime, *, let_in: bool = False) -> Wait | None:
    """Return how long a guess waits; None when it may be tried now.

    tries: all that is counted for this name or this address. let_in: an owner has just let the person in
    again, so only the guesses of this name from this address count.
    """
    if trusted(guess, tries, now):
        return None
    strangers = [each for each in tries if not each.device]
    here = [each for each in strangers if each.network == guess.network]
    waits = [_until_fewer([each for each in here if each.key == guess.key], PAIR, now, Why.PAIR)]
    if not let_in:
        waits += [
            _until_fewer(here, ADDRESS, now, Why.ADDRESS),
            _slowed([each for each in strangers if each.key == guess.key], now),
        ]
    return max((each for each in waits if each), key=lambda each: each.until, default=None)


def counted(before: Tries | None, now: datetime) -> int:
    """Return the count after one more wrong password; one after a quiet WINDOW begins at 1 again."""
    return before.wrong + 1 if before and before.last + WINDOW > now else 1


def stretch(now: datetime) -> tuple[int, datetime]:
    """Return the number of the stretch of WINDOW that `now` lies in, and when it ends."""
    length = WINDOW.total_seconds()
    number = int(now.timestamp() // length)
    return number, datetime.fromtimestamp((number + 1) * length, tz=now.tzinfo)


def _wrong(tries: Iterable[Tries], now: datetime, window: timedelta) -> int:
    return sum(each.wrong for each in tries if each.last + window > now)


def _until_fewer(tries: Iterable[Tries], most: int, now: datetime, why: Why) -> Wait | None:
    """The moment at which fewer than `most` still count."""
    live = sorted((each for each in tries if each.last + WINDOW > now), key=lambda each: each.last)
    left = sum(each.wrong for each in live)
    until = None
    for each in live:
        if left < most:
            break
        until, left = each.last + WINDOW, left - each.wrong
    return Wait(until, why) if until else None


def _slowed(tries: Sequence[Tries], now: datetime) -> Wait | None:
    if _wrong(tries, now, ACCOUNT_WINDOW) < ACCOUNT:
        return None
    until = max(each.last for each in tries) + ACCOUNT_PAUSE
    return Wait(until, Why.ACCOUNT) if until > now else None
