"""What signing in leaves on a request."""

from django.http import HttpRequest

from fleet.sign_in.limits import Wait


class SignInRequest(HttpRequest):
    """A request with which somebody signs in."""

    sign_in_wait: Wait | None
    sign_in_refused: bool
    known_people: dict[str, str]
    axes_ip_address: str
    axes_user_agent: str
    axes_locked_out: bool
