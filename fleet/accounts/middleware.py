"""Who is asking, and for which organisation: opens the organisation's scope around every request."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from fleet.core.roles import NO_RIGHTS, Rights
from fleet.models import ApiToken, Member, Organisation
from fleet.sign_in import attempts
from fleet.sign_in.waiting import too_many_tokens

MEMBER_KEY = "member"
OPERATOR_PREFIX = "/admin/"
FOR_EVERYBODY = ("/health", "/health/web")  # the same for all, so nobody is looked up


class IdentifiedRequest(HttpRequest):
    """A request behind the middleware; without member, token and organisation where nobody is known."""

    member: Member | None
    organisation: Organisation | None
    token: ApiToken | None
    expired_token: ApiToken | None
    sender: str | None
    may: Rights


class OrganisationMiddleware:
    """Set request.member, .organisation, .token, .sender and .may; open the scope and the time zone.

    A bearer token decides by itself; else the signed-in user's chosen membership does. Without either no
    scope is open, so any query on tenant-owned rows raises. The operator's admin runs over all organisations.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: IdentifiedRequest) -> HttpResponse:
        looked_up = request.path not in FOR_EVERYBODY
        request.token = self._token(request) if looked_up else None
        opens_nothing = looked_up and request.token is None and "Authorization" in request.headers
        if opens_nothing and (wait := attempts.wrong_token(request, now=timezone.now())):
            return too_many_tokens(wait)
        request.member = request.token.member if request.token else None
        if looked_up and request.token is None:
            request.member = self._session_member(request)
        request.may = request.member.rights if request.member else NO_RIGHTS
        request.organisation = request.sender = None
        if request.token:
            request.organisation = request.token.organisation
            request.sender = request.token.sender
        elif request.member:
            request.organisation = request.member.organisation
            request.sender = f"member {request.member.pk}"
        if request.path.startswith(OPERATOR_PREFIX):
            with scopes_disabled():  # the operator's admin; Django asks for is_staff there
                return self.get_response(request)
        if request.organisation is None:
            return self.get_response(request)
        with scope(organisation=request.organisation), timezone.override(request.organisation.zone):
            return self.get_response(request)

    def _token(self, request: IdentifiedRequest) -> ApiToken | None:
        scheme, _, secret = request.headers.get("Authorization", "").partition(" ")
        request.expired_token = None
        if scheme.lower() != "bearer" or not secret:
            return None
        now = timezone.now()
        with scopes_disabled():  # the token itself says which organisation
            token = ApiToken.objects.used(secret.strip(), at=now)
            if token is None:
                request.expired_token = ApiToken.objects.expired(secret.strip(), at=now)
        return token

    def _session_member(self, request: IdentifiedRequest) -> Member | None:
        if not request.user.is_authenticated or "Authorization" in request.headers:
            return None
        with scopes_disabled():  # the membership itself says which organisation
            members = list(
                Member.objects.active().filter(user=request.user).select_related("organisation", "user")
            )
        chosen = request.session.get(MEMBER_KEY)
        return next((m for m in members if m.pk == chosen), members[0] if members else None)
