"""What each member sees to alone: language, password, mail, and which organisation to look at."""

from decimal import Decimal

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.db.models import QuerySet
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST
from django_scopes import scopes_disabled

from fleet.accounts import members
from fleet.accounts.middleware import MEMBER_KEY
from fleet.core.languages import spoken_to
from fleet.core.wording import day_of_year, hours
from fleet.models import Member
from fleet.web.confirm import from_our_own_page
from fleet.web.forms.language import LanguageForm, chosen_by
from fleet.web.forms.people import MailForm, PasswordForm
from fleet.web.guards import MemberRequest, members_only
from fleet.web.way_back import way_back


@members_only
def account(request: MemberRequest) -> HttpResponse:
    """Show what can be chosen."""
    return _page(request)


@sensitive_post_parameters()
@require_POST
@members_only
@from_our_own_page
def password(request: MemberRequest) -> HttpResponse:
    """Change one's own password; other devices are signed out by it, and one's tokens end."""
    form = PasswordForm(request.user, request.POST, request=request)
    if not form.is_valid():
        return _page(request, password_form=form)
    update_session_auth_hash(request, form.save())
    messages.success(
        request,
        _("Your password is changed. Other devices have to sign in again; your own tokens have ended."),
    )
    return redirect("account")


@require_POST
@members_only
def mail(request: MemberRequest) -> HttpResponse:
    """Choose whether one gets a digest."""
    form = MailForm(request.POST)
    if form.is_valid():
        members.choose_mail(member=request.member, mail=form.cleaned_data["mail"])
        messages.success(
            request,
            _("You get the daily mail.") if request.member.mail else _("You get no daily mail."),
        )
    return redirect("account")


@require_POST
@members_only
def language(request: MemberRequest) -> HttpResponse:
    """Choose one's language, and how figures and days are written; said in what was chosen."""
    form = LanguageForm(request.POST)
    if not form.is_valid():
        return _page(request, language_form=form)
    with spoken_to(members.choose_language(user=request.member.user, **form.cleaned_data)):
        messages.success(request, _("From now on it looks like this: {day}, {hours}.").format(**_example()))
    return redirect("account")


def _example() -> dict[str, str]:
    return {"day": day_of_year(timezone.now()), "hours": hours(Decimal("1204.5"))}


@require_POST
@members_only
def choose_organisation(request: MemberRequest) -> HttpResponse:
    """Look at another of one's own organisations from now on, at its page `next` if that is ours."""
    asked = request.POST.get("member", "")
    with scopes_disabled():  # one's own memberships, in every organisation
        found = next((str(member.pk) for member in _memberships(request) if str(member.pk) == asked), None)
    if found is None:
        raise Http404
    request.session[MEMBER_KEY] = int(found)
    return way_back(request, request.POST.get("next", ""))


def _memberships(request: MemberRequest) -> QuerySet[Member]:
    return Member.objects.active().filter(user=request.user).select_related("organisation", "user")


def _page(
    request: MemberRequest,
    password_form: PasswordForm | None = None,
    language_form: LanguageForm | None = None,
) -> HttpResponse:
    with scopes_disabled():  # one's own memberships, in every organisation
        memberships = list(_memberships(request).order_by("organisation__name"))
    return render(
        request,
        "fleet/account.html",
        {
            "password_form": password_form or PasswordForm(request.user, request=request),
            "language_form": language_form or LanguageForm(initial=chosen_by(request.member.user)),
            "mail_form": MailForm(initial={"mail": request.member.mail}),
            "memberships": memberships,
        },
        status=422 if password_form or language_form else 200,
    )
