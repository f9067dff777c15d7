"""How often one sender may ask: a limit a minute for each token or signed-in member."""

import logging
import time
from typing import Any

from django.conf import settings
from django.core.cache import cache
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

from fleet.api.caller import caller

MINUTE = 60
log = logging.getLogger(__name__)


class SenderThrottle(BaseThrottle):
    """Counts a sender's requests minute by minute; beyond the limit the answer is 429 with Retry-After.

    The counts are in Django's cache: in Redis for all workers together where there is one, else each worker
    counts for itself. A cache that is down stops nobody.
    """

    def __init__(self) -> None:
        self._left = 0.0

    def allow_request(self, request: Request, view: Any) -> bool:
        """Whether there is room for one more in this minute."""
        sender = caller(request).sender
        if sender is None:
            return True  # nobody came in: the answer is 401
        minute, into = divmod(time.time(), MINUTE)
        self._left = MINUTE - into
        name = sender.replace(" ", "-")
        return self._count(f"asked:{name}:{minute:.0f}") <= settings.REQUESTS_A_MINUTE

    def wait(self) -> float:
        """Seconds until the next minute begins."""
        return self._left

    def _count(self, key: str) -> int:
        try:
            return cache.incr(key)
        except ValueError:  # the first of its minute, or another's first a moment ago
            return 1 if cache.add(key, 1, timeout=2 * MINUTE) else self._count(key)
        except Exception:  # a cache breaks in ways of its own, and none may fail a request
            log.warning("the cache is down; nobody's requests are counted", exc_info=True)
            return 1
