"""In which language a request is answered: what its person chose, else what their browser asks for."""

from collections.abc import Callable
from contextlib import nullcontext

from django.http import HttpRequest, HttpResponse
from django.utils import translation
from django.utils.cache import patch_vary_headers

from fleet.accounts.middleware import FOR_EVERYBODY, IdentifiedRequest
from fleet.core.languages import asked_for, spoken_to, way_of_writing
from fleet.models import User
from fleet.usage.figures import Writing, written


class BrowsersLanguageMiddleware:
    """Speak the browser's language, until `PersonsLanguageMiddleware` knows who asks."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        language = asked_for(request)
        with translation.override(language), written(way_of_writing(language)):
            response = self.get_response(request)
        patch_vary_headers(response, ("Accept-Language",))
        response.headers.setdefault("Content-Language", language)
        return response


class PersonsLanguageMiddleware:
    """Speak the language of who signed in, or whose token it is; the answer says which.

    A token is a program's, which writes numbers with a point.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: IdentifiedRequest) -> HttpResponse:
        with spoken_to(_person(request), otherwise=translation.get_language() or ""):
            with written(Writing()) if request.token else nullcontext():
                response = self.get_response(request)
            response.headers.setdefault("Content-Language", translation.get_language() or "")
        return response


def _person(request: IdentifiedRequest) -> User | None:
    if request.member is not None:
        return request.member.user
    if request.path in FOR_EVERYBODY or "Authorization" in request.headers:
        return None
    return request.user if request.user.is_authenticated else None
