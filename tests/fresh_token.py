"""What a phone does whose token of forms has ended though its sign-in has not."""

from collections.abc import Callable
from typing import Any

from django.test import Client

from fleet.models import User


def sent_twice_after_its_token_ended(user: User, send: Callable[[Client, str], Any]) -> list[Any]:
    """Send as offline/ask.js does: refused, ask for a fresh token, send again, then once more.

    send: takes a client that checks tokens, and the token; returns the answer. Returns the last two answers.
    """
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(user)
    refused = send(strict, "ended")
    assert (refused.status_code, "CSRF" in refused.json()["detail"]) == (403, True)
    fresh = strict.get("/api/v1/phone", {"code": "0"}).cookies["csrftoken"].value
    return [send(strict, fresh), send(strict, fresh)]
