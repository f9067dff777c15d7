"""What every answer says of itself: who may keep it, and what a browser may do on it.

Nothing may be kept by anybody, and a page may do nothing that this server didn't send, unless its view says
otherwise.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase

CACHE = "Cache-Control"
UNKEPT = "private, no-store"
OFFLINE = "private, no-cache"  # kept by this browser, and asked for again wherever there is a line
POLICY = "Content-Security-Policy"
PAGE = (
    "default-src 'self'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; "
    "frame-ancestors 'none'; form-action 'self'"
)
WORKER = "default-src 'none'; script-src 'self'; connect-src 'self'"


class ContentPolicyMiddleware:
    """Send a content security policy with every page: the page's own, else PAGE."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        if answer.get("Content-Type", "").startswith("text/html"):
            answer.headers.setdefault(POLICY, PAGE)
        return answer


class UnkeptMiddleware:
    """Have no browser and nothing between keep an answer that says nothing about it itself.

    So a farm's pages can't be seen by Back after a sign-out, nor found on the disk of a shared computer.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        answer.headers.setdefault(CACHE, UNKEPT)
        return answer


def content_policy(policy: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Send this content security policy with what the view answers."""

    def decorate(view: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(view)
        def restricted(*args: Any, **kwargs: Any) -> HttpResponseBase:
            answer: HttpResponseBase = view(*args, **kwargs)
            answer[POLICY] = policy
            return answer

        return restricted

    return decorate


def kept_offline(view: Callable[..., Any]) -> Callable[..., Any]:
    """Let the browser keep what a page shows: the service worker opens it without a line."""

    @wraps(view)
    def shown(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        answer: HttpResponseBase = view(request, *args, **kwargs)
        if request.method == "GET" and answer.status_code == 200:
            answer.headers.setdefault(CACHE, OFFLINE)
        return answer

    return shown
