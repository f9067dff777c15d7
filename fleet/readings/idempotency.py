"""The first answer to a request with an Idempotency-Key, kept and given again.

After the IETF draft draft-ietf-httpapi-idempotency-key-header: a key sent again with the same body gets the
first answer; with another body it is refused; while the first is being worked on it is told to wait. The
answer is written in the transaction of the work itself, so there is never one without the other.
"""

import hashlib
import zlib
from collections.abc import Callable
from datetime import datetime, timedelta

from django.db import connection, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError, WrongState
from fleet.models import KeptAnswer, Organisation

KEPT_FOR = timedelta(days=14)  # a box that retries for a week is well within
QUICK = 1  # zlib's level: the answers repeat themselves, a quick look packs them to a tenth


class KeyReused(FleetError):
    """The key was sent before, with another body."""

    code = "idempotency-key-reused"


class KeyInUse(WrongState):
    """A request with this key is being worked on."""

    code = "idempotency-key-in-use"


def once(
    *,
    organisation: Organisation,
    sender: str,
    key: str,
    fingerprint: str,
    work: Callable[[], bytes],
    now: datetime | None = None,
) -> bytes:
    """Do the work and keep its answer; or, where that was done before under this key, return that answer.

    sender: who sends; keys are each sender's own. fingerprint: hexadecimal SHA-256 of what was sent.
    Raises KeyReused; KeyInUse where the database can tell (SQLite lets one writer in at a time, so there the
    second one waits and gets the first answer). Whatever `work` raises leaves nothing kept.
    """
    now = now or timezone.now()
    with transaction.atomic():
        if not _lock(f"{organisation.pk} {sender} {key}"):
            raise KeyInUse(
                _("The request with this Idempotency-Key is still being worked on; ask again later.")
            )
        own = KeptAnswer.objects.filter(organisation=organisation, sender=sender, key=key)
        kept = own.first()
        if kept is None or kept.expires_at <= now:
            if kept is not None:
                own.delete()
            answer = work()
            KeptAnswer.objects.create(
                organisation=organisation,
                sender=sender,
                key=key,
                fingerprint=fingerprint,
                body=zlib.compress(answer, QUICK),
                made_at=now,
                expires_at=now + KEPT_FOR,
            )
            return answer
    if kept.fingerprint != fingerprint:
        raise KeyReused(
            _("This Idempotency-Key was sent before with another body; give each request its own.")
        )
    return zlib.decompress(kept.body)


def forget() -> int:
    """Delete the answers that have expired; return how many."""
    deleted, _by_model = KeptAnswer.objects.filter(expires_at__lte=timezone.now()).delete()
    return deleted


def _lock(name: str) -> bool:
    """Take a lock of that name until the transaction ends, or return False at once if another holds it.

    It dies with the connection, so a worker that is killed holds up nobody.
    """
    if connection.vendor != "postgresql":
        return True
    number = int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], signed=True)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_xact_lock(%s)", [number])
        return bool(cursor.fetchone()[0])
