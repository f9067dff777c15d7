"""Errors of the API as problem documents (RFC 9457)."""

import sys
from collections.abc import Iterator
from http import HTTPStatus
from typing import Any

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse, UnreadablePostError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views import defaults
from rest_framework.exceptions import ErrorDetail, UnsupportedMediaType, ValidationError
from rest_framework.permissions import SAFE_METHODS
from rest_framework.response import Response
from rest_framework.views import exception_handler, set_rollback

from fleet.api.errors import MalformedLines, WrongCoding
from fleet.calendar.commitments import Promised
from fleet.core.errors import FleetError, NoRoom, NotAllowed, Stale, WrongState

MEDIA_TYPE = "application/problem+json"
API_PREFIX = "/api/"
URN = "urn:hourmark:problem:"
# RFC 9110 renamed these two; older Pythons still say what came before
MISSING = {  # by the code of the serializers; what is said names the field
    "required": gettext_lazy("Missing. Give `{name}`."),
    "null": gettext_lazy("null is not allowed. Give `{name}`."),
    "blank": gettext_lazy("Empty. Give `{name}`."),
}
PHRASES = {413: "Content Too Large", 422: "Unprocessable Content"}


def problem(status: int, detail: str, *, kind: str = "about:blank", title: str = "") -> dict[str, Any]:
    """Return the members of a problem document; the title is the HTTP phrase unless the type is our own."""
    return {
        "type": kind,
        "title": title or PHRASES.get(status) or HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
    }


def handle(error: Exception, context: dict[str, Any]) -> Response | None:
    """Answer an exception raised in an API view; None, for what nobody foresaw, leads to `server_error`."""
    if isinstance(error, FleetError):
        set_rollback()
        return _response(_refusal(error))
    if isinstance(error, UnreadablePostError):
        sentence = _("The body ended before its Content-Length was reached. Send it again.")
        return _response(problem(400, sentence))
    response = exception_handler(error, context)
    if response is None:
        return None
    if isinstance(error, ValidationError):
        reading = context["request"].method in SAFE_METHODS
        body = problem(response.status_code, _("Some values can't be used; see errors."))
        body["errors"] = list(_errors(error.detail, reading))
    else:
        body = problem(response.status_code, str(response.data.get("detail", error)))
    if isinstance(error, MalformedLines):
        body["errors"] = error.errors
    # RFC 9110, 15.5.16: say what would have been accepted
    if isinstance(error, UnsupportedMediaType):
        response["Accept"] = ", ".join(parser.media_type for parser in context["view"].parser_classes)
    if isinstance(error, WrongCoding) and error.accepted:
        response["Accept-Encoding"] = error.accepted
    return _response(body, response)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """handler404: a problem document under /api/, a page elsewhere."""
    if request.path.startswith(API_PREFIX):
        return _plain(problem(404, _("There is nothing at this address.")))
    return defaults.page_not_found(request, exception)


def server_error(request: HttpRequest) -> HttpResponse:
    """handler500: a problem document under /api/, a page elsewhere. 503 while the database is gone."""
    if request.path.startswith(API_PREFIX):
        if isinstance(sys.exc_info()[1], OperationalError | InterfaceError):
            return _plain(problem(503, _("The database doesn't answer just now. Send it again later.")))
        return _plain(problem(500, _("Something went wrong here; it has been logged. Send it again later.")))
    return defaults.server_error(request)


def _refusal(error: FleetError) -> dict[str, Any]:
    status = 422
    if isinstance(error, NotAllowed):
        status = 403
    elif isinstance(error, Stale | WrongState):
        status = 409
    elif isinstance(error, NoRoom):
        status = 507  # RFC 4918: whoever can wait sends it again
    title = error.code.replace("-", " ").capitalize()
    body = problem(status, error.sentence, kind=URN + error.code, title=title)
    if isinstance(error, Promised):
        body["conflicts"] = [
            {
                "kind": each.kind.value,
                "id": each.pk,
                "first_on": each.first_on,
                "last_on": each.last_on,
                "detail": each.sentence,
            }
            for each in error.conflicts
        ]
    if error.field:
        body["errors"] = [{"detail": error.sentence, "pointer": f"#/{_escaped(error.field)}"}]
    return body


def _errors(detail: Any, reading: bool, path: tuple[str, ...] = ()) -> Iterator[dict[str, str]]:
    """Flatten DRF's nested errors: a JSON pointer into the body, or the name of a query parameter."""
    if isinstance(detail, dict):
        for name, inner in detail.items():
            yield from _errors(inner, reading, path if name == "non_field_errors" else (*path, str(name)))
    elif isinstance(detail, list):
        for place, inner in enumerate(detail):
            yield from _errors(
                inner, reading, path if isinstance(inner, ErrorDetail) else (*path, str(place))
            )
    elif reading:
        yield {"detail": _said(detail, path), "parameter": ".".join(path)}
    else:
        pointer = "#" + "".join(f"/{_escaped(step)}" for step in path)
        yield {"detail": _said(detail, path), "pointer": pointer}


def _said(detail: Any, path: tuple[str, ...]) -> str:
    """What an error says; of a value that is missing, what to give."""
    sentence = MISSING.get(getattr(detail, "code", ""))
    return sentence.format(name=path[-1]) if sentence and path else str(detail)


def _escaped(step: str) -> str:
    """A step of a JSON pointer (RFC 6901)."""
    return step.replace("~", "~0").replace("/", "~1")


def _response(body: dict[str, Any], from_drf: Response | None = None) -> Response:
    response = from_drf or Response(status=body["status"])
    response.data = body
    response.content_type = MEDIA_TYPE
    return response


def _plain(body: dict[str, Any]) -> HttpResponse:
    return JsonResponse(body, status=body["status"], content_type=MEDIA_TYPE)
