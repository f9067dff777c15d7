"""Who may open a page."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpResponseBase
from django.utils.translation import gettext as _
from django_htmx.middleware import HtmxDetails

from fleet.accounts.middleware import IdentifiedRequest
from fleet.models import Member, Organisation, User

View = Callable[..., HttpResponseBase]


class MemberRequest(IdentifiedRequest):
    """A request that a guard let in: a member asks, by a page."""

    user: User
    member: Member
    organisation: Organisation
    htmx: HtmxDetails


def members_only(view: View) -> View:
    """Let any signed-in member of an organisation in; send others to the sign-in page."""
    return needs("")(view)


def needs(right: str) -> Callable[[View], View]:
    """Let in the members whose role holds `right`; answer 403 to other members."""

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: IdentifiedRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if request.token is not None:
                raise PermissionDenied(_("A token is for the API. Sign in to see the pages."))
            if request.member is None:
                if request.user.is_authenticated:
                    raise PermissionDenied(_("Your account is in no organisation."))
                return redirect_to_login(request.get_full_path())
            if right and not getattr(request.may, right):
                raise PermissionDenied(_("Your role doesn't allow this."))
            return view(request, *args, **kwargs)

        return guarded

    return decorate
