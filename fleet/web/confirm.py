"""Steps that give power over an organisation ask for the password again, also of who is signed in.

A stolen session, or a page that acts in somebody's name, gets no further than here.
"""

from datetime import timedelta
from functools import wraps
from typing import Any

from django import forms
from django.contrib.auth import authenticate, update_session_auth_hash
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from fleet.sign_in.waiting import why_refused
from fleet.web.forms.house import Form
from fleet.web.guards import View

KEY = "confirmed_at"  # in the session: seconds since 1970
GOOD_FOR = timedelta(minutes=5)
FIELD = "confirm_password"
NOT_KEPT = {FIELD, "csrfmiddlewaretoken"}


class ConfirmForm(Form):
    """The password of who is signed in."""

    confirm_password = forms.CharField(
        label=_("Your password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password", "autofocus": True}),
        error_messages={"required": _("Type your password.")},
    )


def from_our_own_page(view: View) -> View:
    """Refuse with 403 what another site's page sends, by what the browser says of it (Fetch Metadata)."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if request.method == "POST" and request.headers.get("Sec-Fetch-Site", "same-origin") != "same-origin":
            raise PermissionDenied(_("Another site sent this. Open the page here and try again."))
        return view(request, *args, **kwargs)

    return guarded


def confirmed(view: View) -> View:
    """Before a POST is acted on, ask for the password, unless it was given in the last few minutes.

    What was sent is kept on the page that asks, and goes on from there to the same address. The password is
    checked by `authenticate`, so wrong ones are counted where sign-ins are.
    """

    @wraps(view)
    def asked(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if request.method != "POST" or is_fresh(request):
            return view(request, *args, **kwargs)
        form = ConfirmForm(request.POST if FIELD in request.POST else None)
        if form.is_valid():
            name, password = request.user.get_username(), form.cleaned_data[FIELD]
            user = authenticate(request, username=name, password=password)
            if user == request.user:
                update_session_auth_hash(request, user)  # the check may have made its hash again
                request.session[KEY] = timezone.now().timestamp()
                return view(request, *args, **kwargs)
            form.add_error(FIELD, why_refused(request) or _("That isn't your password. Type it again."))
        return _page(request, form)

    guarded: View = from_our_own_page(sensitive_post_parameters(FIELD)(never_cache(asked)))
    return guarded


def is_fresh(request: HttpRequest) -> bool:
    """Whether who is signed in gave the password a moment ago, in this session."""
    given = request.session.get(KEY)
    return given is not None and 0 <= timezone.now().timestamp() - given < GOOD_FOR.total_seconds()


def _page(request: HttpRequest, form: ConfirmForm) -> HttpResponse:
    context = {"form": form, "kept": _kept(request.POST), "minutes": GOOD_FOR.seconds // 60}
    return render(request, "fleet/confirm.html", context, status=422)


def _kept(sent: QueryDict) -> list[tuple[str, str]]:
    return [(name, value) for name, values in sent.lists() if name not in NOT_KEPT for value in values]
