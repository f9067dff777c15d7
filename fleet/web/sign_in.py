"""Signing in, and what an owner sees of those who could not."""

from django.contrib import messages
from django.contrib.auth.views import LoginView
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.core.errors import FleetError
from fleet.models import Member
from fleet.sign_in import attempts, lockouts
from fleet.web.forms.sign_in import SignInForm
from fleet.web.guards import MemberRequest, needs


class SignIn(LoginView):
    """Name and password, then the page that was asked for."""

    form_class = SignInForm
    redirect_authenticated_user = True


@needs("manage_people")
def refused_sign_ins(request: MemberRequest) -> HttpResponse:
    """Show whose sign-ins were refused, from where, how often and until when."""
    return render(
        request,
        "fleet/refused_sign_ins.html",
        {
            "rows": lockouts.of_organisation(member=request.member),
            "most": lockouts.MOST,
            "days": attempts.REFUSED_KEPT.days,
        },
    )


@require_POST
@needs("manage_people")
def let_in(request: MemberRequest, pk: int) -> HttpResponse:
    """Let a person in again who is waiting after wrong passwords."""
    person = get_object_or_404(Member.objects.select_related("user"), pk=pk)
    try:
        lockouts.let_in(person=person, member=request.member)
    except FleetError as error:
        messages.error(request, error.sentence)
    else:
        messages.success(request, _("{person} can try again now.").format(person=person))
    return redirect("refused-sign-ins")
