"""Guesses counted in the database, where every worker sees them and no restart forgets them.

A guess is counted as wrong before it is hashed and taken back when it was right: many at once can't all pass
before the first is counted.
"""

import hashlib
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from axes.models import AccessAttempt, AccessFailureLog
from django.db import connection, transaction
from django.db.models import Q, QuerySet
from django.http import HttpRequest
from django_scopes import scopes_disabled

from fleet.models import LetIn
from fleet.sign_in import devices, limits
from fleet.sign_in.addresses import UNTOLD, network_of
from fleet.sign_in.limits import Guess, Tries, Wait, Why
from fleet.sign_in.names import PREFIX, key_of

LET_IN_FOR = timedelta(minutes=15)
ATTEMPTS_KEPT = timedelta(days=1)
REFUSED_KEPT = timedelta(days=14)
TOKEN, CHECKS = "token", "checks"


def of(request: HttpRequest, name: str) -> Guess:
    """Return whom a request guesses, from where and in which browser."""
    key = key_of(name)
    return Guess(key, network_of(request), devices.of(request, key))


def wait_for(guess: Guess, *, now: datetime) -> Wait | None:
    """Return how long this guess waits before it is looked at; None when it may be made. Counts nothing."""
    return _judged(guess, _rows(guess, now), now)


def reserve(guess: Guess, *, now: datetime) -> tuple[Guess, Wait | None]:
    """Count a guess as wrong until it proves right, unless it must wait.

    Returns the guess as it was counted (a browser that used up its tries is like any other), and the wait.
    """
    with transaction.atomic():
        _lock(guess.key, guess.network)
        rows = _rows(guess, now)
        if not limits.trusted(guess, tries_of(rows), now):
            guess = Guess(guess.key, guess.network)
        wait = _judged(guess, rows, now)
        if wait is None:
            _count(guess, now)
            _count(_checks(guess, bool(guess.device), now), now)
    return guess, wait


def right(guess: Guess) -> None:
    """Forget the wrong passwords of this person from this address and browser: this one was right."""
    AccessAttempt.objects.filter(username=guess.key, user_agent=guess.device).filter(
        Q(ip_address=guess.network) | ~Q(user_agent="")
    ).delete()


def forget_wrong(key: str) -> None:
    """Forget all wrong passwords counted for a name, from wherever they came."""
    AccessAttempt.objects.filter(username=key).delete()


def forget_some(*, name: str | None, network: str | None, either: bool) -> int:
    """Forget counts by name, by address or, with neither, all; return how many rows. For the operator."""
    by_name = Q(username=key_of(name)) if name else Q()
    by_network = Q(ip_address=network) if network else Q()
    counts = AccessAttempt.objects.filter(by_name | by_network if either else by_name & by_network)
    return counts.delete()[0]


def waits_of(guesses: Sequence[Guess], *, now: datetime) -> list[Wait | None]:
    """Return how long each of these guesses would wait, in their order, by one query."""
    keys, networks = {each.key for each in guesses}, {each.network for each in guesses}
    rows = _counts().filter(Q(username__in=keys) | Q(ip_address__in=networks), attempt_time__gt=_oldest(now))
    tries = tries_of(rows)
    return [limits.wait(each, tries, now) for each in guesses]


def wrong_here(guess: Guess, *, now: datetime) -> int:
    """Return the wrong passwords that count for this name from this address."""
    return sum(
        each.wrong
        for each in tries_of(_rows(guess, now))
        if (each.key, each.network) == (guess.key, guess.network) and each.last + limits.WINDOW > now
    )


def wrong_token(request: HttpRequest, *, now: datetime) -> Wait | None:
    """Count a token that opens nothing; return how long its address waits where it sent too many."""
    guess = Guess(TOKEN, network_of(request))
    if wait := _token_wait(guess, now):
        return wait  # a flood of them writes nothing
    with transaction.atomic():
        _lock(guess.key, guess.network)
        if wait := _token_wait(guess, now):
            return wait
        _count(guess, now)
    return None


def forget_old(*, now: datetime) -> int:
    """Delete counts and records of refused sign-ins that are over; return how many."""
    counts, _ = AccessAttempt.objects.filter(attempt_time__lte=now - ATTEMPTS_KEPT).delete()
    records, _ = AccessFailureLog.objects.filter(attempt_time__lte=now - REFUSED_KEPT).delete()
    return counts + records


def tries_of(rows: Iterable[AccessAttempt]) -> list[Tries]:
    """Return what the rows count of names; not tokens, nor how much was hashed."""
    return [_tries(row) for row in rows if row.username.startswith(PREFIX)]


def _judged(guess: Guess, rows: Sequence[AccessAttempt], now: datetime) -> Wait | None:
    tries = tries_of(rows)
    wait = limits.wait(guess, tries, now)
    if wait and wait.why != Why.PAIR and _let_in(guess, now):
        wait = limits.wait(guess, tries, now, let_in=True)
    return wait or _checks_wait(guess, rows, limits.trusted(guess, tries, now), now)


def _tries(row: AccessAttempt) -> Tries:
    return Tries(row.username, row.ip_address, row.user_agent, row.failures_since_start, row.attempt_time)


def _rows(guess: Guess, now: datetime) -> list[AccessAttempt]:
    """All rows of this name or this address that may still count."""
    own = Q(username__in=[guess.key, *(_checks(guess, known, now).key for known in (True, False))])
    return list(_counts().filter(own | Q(ip_address=guess.network), attempt_time__gt=_oldest(now)))


def _oldest(now: datetime) -> datetime:
    return now - max(limits.WINDOW, limits.ACCOUNT_WINDOW)


def _counts() -> QuerySet[AccessAttempt]:
    """Attempts without the texts that axes has room for and that we leave empty."""
    return AccessAttempt.objects.only(
        "username", "ip_address", "user_agent", "failures_since_start", "attempt_time"
    ).order_by()


def _count(guess: Guess, now: datetime) -> None:
    row = _counts().filter(**_place(guess)).first()
    if row is None:
        AccessAttempt.objects.create(
            **_place(guess), failures_since_start=1, get_data="", post_data="", http_accept="", path_info=""
        )
        made = AccessAttempt.objects.filter(**_place(guess))
        made.update(attempt_time=now)  # axes sets the moment itself when it makes one
        return
    wrong = limits.counted(_tries(row), now)
    AccessAttempt.objects.filter(pk=row.pk).update(failures_since_start=wrong, attempt_time=now)


def _place(guess: Guess) -> dict[str, str]:
    return {"username": guess.key, "ip_address": guess.network, "user_agent": guess.device}


def _checks(guess: Guess, known: bool, now: datetime) -> Guess:
    """Where it is counted how much was hashed: for a known browser by the person, else by the address."""
    number, _ = limits.stretch(now)
    key = f"{CHECKS} {number}"
    return Guess(key, UNTOLD, guess.key) if known else Guess(key, guess.network)


def _checks_wait(guess: Guess, rows: Iterable[AccessAttempt], known: bool, now: datetime) -> Wait | None:
    place = _place(_checks(guess, known, now))
    made = sum(
        row.failures_since_start
        for row in rows
        if all(getattr(row, name) == value for name, value in place.items())
    )
    return Wait(limits.stretch(now)[1], Why.CHECKS) if made >= limits.CHECKS else None


def _token_wait(guess: Guess, now: datetime) -> Wait | None:
    row = _counts().filter(**_place(guess), attempt_time__gt=now - limits.WINDOW).first()
    if row is None or row.failures_since_start < limits.TOKENS:
        return None
    return Wait(row.attempt_time + limits.WINDOW, Why.TOKENS)


def _let_in(guess: Guess, now: datetime) -> bool:
    with scopes_disabled():  # nobody is in yet; the name alone says who it is
        return LetIn.objects.filter(key=guess.key, at__gt=now - LET_IN_FOR).exists()


def _lock(*names: str) -> None:
    """Let one count at a time for each of these names, until the transaction ends.

    SQLite lets one writer in at a time; on PostgreSQL an advisory lock dies with the connection.
    """
    if connection.vendor != "postgresql":
        return
    numbers = sorted(
        int.from_bytes(hashlib.sha256(f"sign in {name}".encode()).digest()[:8], signed=True) for name in names
    )
    with connection.cursor() as cursor:
        for number in numbers:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [number])
