"""What a browser may do on a page: nothing that this server didn't send."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpResponseBase

PAGE = (
    "default-src 'self'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; "
    "frame-ancestors 'none'; form-action 'self'"
)
WORKER = "default-src 'none'; script-src 'self'; connect-src 'self'"


def content_policy(policy: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Send this content security policy with what the view answers."""

    def decorate(view: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(view)
        def restricted(*args: Any, **kwargs: Any) -> HttpResponseBase:
            answer: HttpResponseBase = view(*args, **kwargs)
            answer["Content-Security-Policy"] = policy
            return answer

        return restricted

    return decorate
