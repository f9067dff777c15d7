"""What a browser may do on a page: nothing that this server didn't send."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase

HEADER = "Content-Security-Policy"
PAGE = (
    "default-src 'self'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; "
    "frame-ancestors 'none'; form-action 'self'"
)
READER = (
    f"{PAGE}; style-src 'self' 'unsafe-inline'"  # the page that reads the API's document has its own look
)
WORKER = "default-src 'none'; script-src 'self'; connect-src 'self'"


class ContentPolicyMiddleware:
    """Send a content security policy with every page: the page's own, else PAGE."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        if answer.get("Content-Type", "").startswith("text/html"):
            answer.headers.setdefault(HEADER, PAGE)
        return answer


def content_policy(policy: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Send this content security policy with what the view answers."""

    def decorate(view: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(view)
        def restricted(*args: Any, **kwargs: Any) -> HttpResponseBase:
            answer: HttpResponseBase = view(*args, **kwargs)
            answer[HEADER] = policy
            return answer

        return restricted

    return decorate
