"""How much of a request is read: nothing of a body that is too large, or that doesn't say how large it is."""

from collections.abc import Callable
from io import IOBase
from typing import Any

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _
from django.views import defaults

from fleet.api.problems import API_PREFIX, MEDIA_TYPE, problem

MEGABYTE = 1024 * 1024
TOO_LARGE = _(
    "This is larger than {megabytes} MB. Nothing was saved. Send a smaller file, or send it in parts."
)
TOO_MUCH_TEXT = _("This is too much text for one page. Nothing was saved. Shorten it and send it again.")
NO_LENGTH = _("Send the body with its Content-Length.")


class BoundedBodyMiddleware:
    """Refuse a body by its length before a byte of it is read, and one that ends before that length.

    Django reads what Content-Length says and no more, so a body without one would count as empty. A form with
    files would be written to temporary files as it comes in, whoever sends it: before anybody is looked up.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        length = int(request.META.get("CONTENT_LENGTH") or 0)
        if length > settings.LARGEST_BODY:
            megabytes = settings.LARGEST_BODY // MEGABYTE
            return refused(request, 413, TOO_LARGE.format(megabytes=megabytes))
        if not length and "Transfer-Encoding" in request.headers:
            return refused(request, 411, str(NO_LENGTH))
        request._stream = _Whole(request._stream, length)  # type: ignore[assignment]  # is only read
        try:
            return self.get_response(request)
        finally:
            for handler in getattr(request, "_upload_handlers", ()):
                handler.upload_interrupted()  # takes away a temporary file that nobody came to the end of


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """handler400: what the framework refuses to read on is too large; the rest as it answers itself."""
    if isinstance(exception, RequestDataTooBig):
        return refused(request, 413, str(TOO_MUCH_TEXT))
    return defaults.bad_request(request, exception)


def refused(request: HttpRequest, status: int, sentence: str) -> HttpResponse:
    """Return the answer to a body that isn't read: a problem document under /api/, a page elsewhere."""
    if request.path.startswith(API_PREFIX):
        return JsonResponse(problem(status, sentence), status=status, content_type=MEDIA_TYPE)
    return render(request, "body_refused.html", {"sentence": sentence}, status=status)


class _Whole(IOBase):
    """A body that raises OSError where it ends too early: what came of a file must not pass for all of it."""

    def __init__(self, stream: Any, length: int) -> None:
        self._stream = stream
        self._left = length  # bytes

    def read(self, size: int | None = -1) -> bytes:
        wanted = self._left if size is None or size < 0 else min(size, self._left)
        read = self._counted(self._stream.read(wanted)) if wanted > 0 else b""
        while 0 < len(read) < wanted:
            read += self._counted(self._stream.read(wanted - len(read)))
        return read

    def readline(self, size: int | None = -1) -> bytes:
        if self._left <= 0 or size == 0:
            return b""
        return self._counted(self._stream.readline(-1 if size is None else size))

    def _counted(self, data: bytes) -> bytes:
        if not data:
            raise OSError(f"The body ended {self._left:,} bytes before its Content-Length.")
        self._left -= len(data)
        return data
