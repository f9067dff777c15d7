"""Browsers that have signed in before: a signed cookie says for which people.

It opens nothing: it only gives wrong passwords for these people a count of their own (OWASP, "Slow Down
Online Guessing Attacks with Device Cookies").
"""

import hashlib
import secrets

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse

from fleet.sign_in.names import key_of
from fleet.sign_in.request import SignInRequest

SALT = "fleet.sign_in.devices"
PEOPLE = 8  # whom one browser remembers, the latest: a tablet in the yard is shared
SHORT = 20  # characters of a key that tell people of one browser apart
LASTS = 60 * 60 * 24 * 400  # seconds; browsers keep no cookie longer (RFC 6265bis, 5.5)


def of(request: HttpRequest, key: str) -> str:
    """Return what this browser is counted under for that person; empty where it hasn't signed them in.

    A browser in which the person is signed in right now counts too, cookie or not.
    """
    known = _known(request).get(key[-SHORT:])
    if known:
        return known
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated or key_of(user.get_username()) != key:
        return ""
    return "session:" + hashlib.sha256(str(request.session.session_key).encode()).hexdigest()[:32]


def remember(request: SignInRequest, key: str) -> None:
    """Have the answer to this request tell the browser that the person has signed in here."""
    known = _known(request)
    known[key[-SHORT:]] = known.pop(key[-SHORT:], "") or secrets.token_urlsafe(16)
    latest = list(known.items())[-PEOPLE:]
    request.known_people = dict(latest)


class KnownDeviceMiddleware:
    """Hand the browser its cookie after somebody signed in."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        people = getattr(request, "known_people", None)
        if people:
            answer.set_cookie(
                settings.KNOWN_DEVICE_COOKIE,
                signing.dumps(people, salt=SALT),
                max_age=LASTS,
                secure=settings.SESSION_COOKIE_SECURE,
                httponly=True,
                samesite="Lax",
            )
        return answer


def _known(request: HttpRequest) -> dict[str, str]:
    """Whom the cookie names; nobody where it is missing, changed or too old."""
    try:
        said = signing.loads(request.COOKIES.get(settings.KNOWN_DEVICE_COOKIE, ""), salt=SALT, max_age=LASTS)
    except signing.BadSignature:
        return {}
    return dict(said)
