"""How a wait is told: a sentence beside the form, 429 with Retry-After, a problem document over the API."""

import math
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from fleet.sign_in.limits import Wait, Why

SENTENCES = {
    Why.PAIR: _(
        "Too many wrong passwords for this name. Try again {wait}. Forgotten it? Ask an owner of your "
        "organisation for a new link."
    ),
    Why.ADDRESS: _(
        "Too many wrong passwords from your network. Try again {wait}, or use a device that has "
        "signed in before."
    ),
    Why.ACCOUNT: _(
        "Somebody keeps trying wrong passwords for this name, so new devices take turns. Try again "
        "{wait}, or use a device that has signed in before."
    ),
    Why.CHECKS: _("Too many sign-ins from your network. Try again {wait}."),
    Why.BUSY: _("Too many people are signing in just now. Try again {wait}."),
    Why.TOKENS: _("Too many unknown tokens from your network. Put the right one in and try again {wait}."),
}
"""Each with the `wait` in words, as in "in 5 minutes"."""


def sentence(wait: Wait) -> str:
    """Return what a person must know: why, how long, and what to do."""
    return SENTENCES[wait.why].format(wait=_from_now(seconds(wait)))


def why_refused(request: HttpRequest) -> str:
    """Return why `authenticate(request, ...)` refused to look at a password; empty where it did look."""
    wait = getattr(request, "sign_in_wait", None)
    return sentence(wait) if wait else ""


def seconds(wait: Wait) -> int:
    """Return the whole seconds left, at least one."""
    return max(1, math.ceil((wait.until - timezone.now()).total_seconds()))


def too_many(
    request: HttpRequest, answer: HttpResponse | None = None, credentials: dict[str, Any] | None = None
) -> HttpResponse:
    """Return the page that was made, as 429 with Retry-After (RFC 6585, 4; RFC 9110, 10.2.3)."""
    wait = getattr(request, "sign_in_wait", None)
    answer = answer or HttpResponse(why_refused(request), content_type="text/plain; charset=utf-8")
    answer.status_code = 429
    if wait:
        answer["Retry-After"] = str(seconds(wait))
    return answer


def too_many_tokens(wait: Wait) -> HttpResponse:
    """Return the answer to one more unknown token (RFC 9457)."""
    body = {"type": "about:blank", "title": "Too Many Requests", "status": 429, "detail": sentence(wait)}
    answer = JsonResponse(body, status=429, content_type="application/problem+json")
    answer["Retry-After"] = str(seconds(wait))
    return answer


def _from_now(left: int) -> str:
    if left < 100:
        return ngettext("in {n} second", "in {n} seconds", left).format(n=left)
    minutes = math.ceil(left / 60)
    return ngettext("in {n} minute", "in {n} minutes", minutes).format(n=minutes)
