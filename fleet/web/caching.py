"""What may be kept of an answer, and by whom: nothing by anybody, unless a page says otherwise."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase

HEADER = "Cache-Control"
UNKEPT = "private, no-store"
OFFLINE = "private, no-cache"  # kept by this browser, and asked for anew wherever there is a line


class UnkeptMiddleware:
    """Have no browser and nothing between keep an answer that says nothing about it itself.

    So a farm's pages can't be seen by Back after a sign-out, nor found on the disk of a shared computer.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        answer.headers.setdefault(HEADER, UNKEPT)
        return answer


def kept_offline(view: Callable[..., Any]) -> Callable[..., Any]:
    """Let the browser keep what a page shows: the service worker opens it without a line."""

    @wraps(view)
    def shown(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        answer: HttpResponseBase = view(request, *args, **kwargs)
        if request.method == "GET" and answer.status_code == 200:
            answer.headers.setdefault(HEADER, OFFLINE)
        return answer

    return shown
