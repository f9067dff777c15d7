"""How many passwords are hashed at a time: a slow hash must not take all of a server's threads."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from threading import BoundedSemaphore

from django.utils import timezone

from fleet.sign_in.limits import Wait, Why

LONGEST_PASSWORD = 1024
"""Characters; a longer one is wrong without being hashed. NIST SP 800-63B asks for 64 or more to be taken."""
PATIENCE = 3.0
"""Seconds that one waits for its turn."""
AGAIN = timedelta(seconds=5)


class Busy(Exception):
    """There is no turn to be had."""

    def __init__(self) -> None:
        super().__init__("too many passwords are being checked")
        self.wait = Wait(timezone.now() + AGAIN, Why.BUSY)


class Turns:
    """Lets one in at a time and one more wait for it; whoever comes then is sent away at once."""

    def __init__(self) -> None:
        self._places = BoundedSemaphore(2)
        self._turn = BoundedSemaphore(1)

    @contextmanager
    def one(self) -> Iterator[None]:
        """Hold the turn. Raises Busy where it can't be had."""
        if not self._places.acquire(blocking=False):
            raise Busy
        try:
            if not self._turn.acquire(timeout=PATIENCE):
                raise Busy
            try:
                yield
            finally:
                self._turn.release()
        finally:
            self._places.release()


KNOWN, STRANGERS = Turns(), Turns()
"""Of this process. Browsers that have signed in before have one of their own, so strangers can't take it."""
