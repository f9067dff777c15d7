"""One source is read, from asking to noting how it went."""

import logging
import random
from datetime import datetime, timedelta
from functools import partial

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy, ngettext

from fleet.core.errors import FleetError
from fleet.models import TelematicsSource
from fleet.telematics import apply_snapshot, credentials
from fleet.telematics.fetch import Getter, Login
from fleet.telematics.limits import USUAL, Limits
from fleet.telematics.oauth import Client, granted
from fleet.telematics.pagination import walk
from fleet.telematics.server_words import MOST_WAIT
from fleet.telematics.snapshot import SnapshotRefused
from fleet.usage.figures import how_many

log = logging.getLogger(__name__)

LEASE = timedelta(minutes=15)  # as long as a task may run; a reader that died is then taken to be gone
FIRST_WAIT = timedelta(minutes=5)  # after a failure; doubled with each further one in a row
LONGEST_WAIT = timedelta(days=1)
SPREAD = 0.1  # waits are up to this share longer or shorter, so that sources don't all come at once
OURS = gettext_lazy(
    "Reading it failed here, not at the server. The operator will find the reason in the log."
)


def read(
    *, source: TelematicsSource, forced: bool = False, limits: Limits = USUAL, now: datetime | None = None
) -> bool:
    """Read the source if it is due, or in any case when forced; return whether it was read with success.

    Needs the organisation's scope. False, too, when somebody else is reading it. How it went stands on the
    source. The server is asked outside any transaction, and the snapshot is applied in one, so that of a
    refused snapshot nothing is applied. Raises what is no refusal, after noting it.
    """
    now = now or timezone.now()
    sources = TelematicsSource.objects.filter(pk=source.pk)
    free = sources.free(now) if forced else sources.due(now)
    if free.update(busy_until=now + LEASE, tried_at=now) != 1:
        return False
    source.refresh_from_db()
    try:
        _read(source, limits, now)
    except SnapshotRefused as error:
        wait = error.retry_after or 0.0
        if error.retry_at is not None:
            wait = min(max(wait, (error.retry_at - now).total_seconds()), MOST_WAIT)
        _failed(source, error.sentence, now=now, wait=wait, patient=error.wrong_login)
    except FleetError as error:
        _failed(source, error.sentence, now=now, patient=True)
    except Exception:
        log.exception("telematics source %s of organisation %s", source.pk, source.organisation_id)
        _failed(source, str(OURS), now=now)
        raise
    else:
        return True
    return False


def _read(source: TelematicsSource, limits: Limits, now: datetime) -> None:
    login = _login(source, limits)
    renewed = partial(_login, source, limits) if source.login == TelematicsSource.Login.CLIENT else None
    getter = Getter(source.url, login, limits=limits, inside=settings.TELEMATICS_INSIDE, renewed=renewed)
    sent, pages = walk(getter, source.url, limits=limits)
    with transaction.atomic():
        brought = apply_snapshot.apply(source=source, sent=sent, now=now)
        said = ngettext("{n} page, {brought}", "{n} pages, {brought}", pages)
        _note(
            source,
            good_at=now,
            outcome=said.format(n=how_many(pages), brought=brought),
            units_seen=brought.units,
            failures=0,
            next_try_at=now + spread(timedelta(minutes=source.every_minutes)),
        )


def _login(source: TelematicsSource, limits: Limits) -> Login:
    """What to ask with; of a client the token that it gets now."""
    secret = credentials.unlock(source.secret)
    if source.login != TelematicsSource.Login.CLIENT:
        return Login(source.login, source.username, secret)
    client = Client(source.token_url, source.username, secret, source.scope)
    return Login("bearer", secret=granted(client, limits=limits, inside=settings.TELEMATICS_INSIDE))


def _failed(
    source: TelematicsSource, why: str, *, now: datetime, wait: float | None = None, patient: bool = False
) -> None:
    """Note a failure. wait: seconds the server asked for. patient: not sooner than usual."""
    failures = source.failures + 1
    delay = back_off(failures)
    if patient:
        delay = max(delay, timedelta(minutes=source.every_minutes))
    delay = max(spread(delay), timedelta(seconds=wait or 0))
    _note(source, error=why, error_at=now, failures=failures, next_try_at=now + delay)


def back_off(failures: int) -> timedelta:
    """The wait after so many failures in a row: 5, 10, 20 minutes and so on, a day at most."""
    return min(FIRST_WAIT * 2 ** min(failures - 1, 20), LONGEST_WAIT)


def spread(wait: timedelta) -> timedelta:
    """About as long: chance adds or takes up to a tenth."""
    return wait * random.uniform(1 - SPREAD, 1 + SPREAD)


def _note(source: TelematicsSource, **facts: object) -> None:
    """Write how it went, and nothing of what a person may have changed meanwhile."""
    facts["busy_until"] = None
    TelematicsSource.objects.filter(pk=source.pk).update(**facts)
    for name, value in facts.items():
        setattr(source, name, value)
