"""One-time links: whoever follows one chooses a password, or comes into an organisation.

The secret is taken out of the address at once and kept in the session while the form is filled in, as
Django's own reset of passwords does: so it stands in no history and in no address that is handed on.
"""

from django.conf import settings
from django.contrib.auth import authenticate, login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from fleet.accounts import invitations, members
from fleet.accounts.middleware import MEMBER_KEY
from fleet.core.errors import Stale
from fleet.models import Member, User
from fleet.web.forms.people import KnownForm, WelcomeForm

LINK, JOINING = "link", "joining"  # where the session keeps them


@never_cache
def welcome(request: HttpRequest, uid: str, secret: str) -> HttpResponse:
    """Take a link for a new password out of the address."""
    if members.invited(uid=uid, secret=secret) is None:
        return _ended(request)
    request.session[LINK] = [uid, secret]
    return _without_secret("welcome-password")


@never_cache
@sensitive_post_parameters()
def welcome_password(request: HttpRequest) -> HttpResponse:
    """Let the one who followed the link set a password, and sign them in."""
    uid, secret = request.session.get(LINK, ("", ""))
    user = members.invited(uid=uid, secret=secret)
    if user is None:
        return _ended(request)
    form = WelcomeForm(request.POST if request.method == "POST" else None, user=user)
    if request.method == "POST" and form.is_valid():
        try:
            user = members.accept(uid=uid, secret=secret, password=form.cleaned_data["password"])
        except Stale:
            return _ended(request)
        return _in(request, user)
    context = {"person": user, "form": form}
    return render(request, "fleet/welcome.html", context, status=422 if form.errors else 200)


@never_cache
def join(request: HttpRequest, secret: str) -> HttpResponse:
    """Take a link to come in by out of the address."""
    if invitations.met(secret) is None:
        return _ended(request)
    request.session[JOINING] = secret
    return _without_secret("join-password")


@never_cache
@sensitive_post_parameters()
def join_password(request: HttpRequest) -> HttpResponse:
    """Let a newcomer in: by a first password, or by the one they sign in here with already."""
    secret = request.session.get(JOINING, "")
    newcomer = invitations.met(secret)
    if newcomer is None:
        return _ended(request)
    known = invitations.account_of(newcomer)
    given = request.POST if request.method == "POST" else None
    form = (
        KnownForm(given)
        if known
        else WelcomeForm(given, user=User(username=newcomer.email, first_name=newcomer.name))
    )
    if request.method == "POST" and form.is_valid():
        password = form.cleaned_data["password"]
        try:
            if known is None:
                return _in(request, *_user_of(invitations.begin(secret=secret, password=password)))
            user = authenticate(request, username=known.get_username(), password=password)
            if user is not None:
                return _in(request, *_user_of(invitations.come_in(secret=secret, user=user)))
            form.add_error("password", _("That isn't the password you sign in with here."))
        except Stale:
            return _ended(request)
    context = {"newcomer": newcomer, "known": known, "form": form}
    return render(request, "fleet/join.html", context, status=422 if form.errors else 200)


def _user_of(member: Member) -> tuple[User, Member]:
    return member.user, member


def _in(request: HttpRequest, user: User, member: Member | None = None) -> HttpResponse:
    """Sign in whom the link let in, and look at the organisation they came into."""
    for key in (LINK, JOINING):
        request.session.pop(key, None)
    login(request, user, backend=settings.AUTHENTICATION_BACKENDS[0])
    if member is not None:
        request.session[MEMBER_KEY] = member.pk
    return redirect("today")


def _without_secret(name: str) -> HttpResponse:
    answer = redirect(name)
    answer["Referrer-Policy"] = "no-referrer"
    return answer


def _ended(request: HttpRequest) -> HttpResponse:
    return render(request, "fleet/welcome_ended.html", status=410)
