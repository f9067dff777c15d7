"""Tokens of people and devices: made, shown once, given a new secret, ended."""

import json
import shlex
from decimal import Decimal
from uuid import uuid4

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from fleet.accounts import api_tokens
from fleet.core.errors import FleetError
from fleet.models import ApiToken, Machine
from fleet.web.confirm import confirmed, from_our_own_page
from fleet.web.forms.refusals import show
from fleet.web.forms.tokens import RotationForm, TokenForm
from fleet.web.guards import MemberRequest, members_only

PAGE = 20


@members_only
def listed(request: MemberRequest) -> HttpResponse:
    """List one's own tokens, and the devices' to those who see to the fleet."""
    page = Paginator(_seen(request), PAGE).get_page(request.GET.get("page"))
    return render(request, "fleet/tokens.html", {"page": page})


@never_cache
@members_only
@confirmed
def new(request: MemberRequest) -> HttpResponse:
    """Make a token and show its secret. The secret is on this answer alone."""
    form = TokenForm(request.POST if request.method == "POST" else None, member=request.member)
    if request.method == "POST" and form.is_valid():
        try:
            token, secret = api_tokens.issue(
                name=form.cleaned_data["name"],
                member=request.member,
                device=form.device,
                machines=form.cleaned_data.get("machines", ()),
                yards=form.cleaned_data.get("yards", ()),
                lasts=form.cleaned_data["lasts"],
            )
        except FleetError as error:
            show(error, form)
        else:
            return _shown(request, token, secret)
    return render(request, "fleet/token_new.html", {"form": form}, status=422 if form.errors else 200)


@never_cache
@members_only
@confirmed
def rotate(request: MemberRequest, pk: int) -> HttpResponse:
    """Give a token a new secret and show it; the old one ends at once or at the hour stated."""
    token = get_object_or_404(_seen(request).filter(revoked_at=None), pk=pk)
    form = RotationForm(
        request.POST if request.method == "POST" else None, member=request.member, token=token
    )
    if request.method == "POST" and form.is_valid():
        try:
            secret = api_tokens.rotate(token=token, member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            return _shown(request, token, secret)
    status = 422 if form.errors else 200
    return render(request, "fleet/token_rotate.html", {"token": token, "form": form}, status=status)


@require_POST
@members_only
@from_our_own_page
def revoke(request: MemberRequest, pk: int) -> HttpResponse:
    """End a token at once."""
    token = get_object_or_404(_seen(request), pk=pk)
    api_tokens.revoke(token=token, member=request.member)
    sentence = _("{token} has ended. Whatever used it is refused from now on.")
    messages.success(request, sentence.format(token=token))
    return redirect("tokens")


def _shown(request: MemberRequest, token: ApiToken, secret: str) -> HttpResponse:
    made = {"token": token, "secret": secret, "line": _line(request, token, secret)}
    return render(request, "fleet/token_made.html", made)


def _line(request: MemberRequest, token: ApiToken, secret: str) -> str:
    """A line for a terminal that posts a reading of the first machine the token may send for."""
    machines = Machine.objects.visible_to(request.member).in_service().metered()
    if token.limited:
        machines = machines.filter(Q(pk__in=token.machines.all()) | Q(yard__in=token.yards.all()))
    machine = machines.first()
    reading = {
        "machine": machine.tag if machine else "T-07",
        "meter": str(machine.hours if machine else Decimal("1204.5")),
        "taken_at": timezone.localtime().isoformat(timespec="seconds"),
        "client_id": uuid4().hex[:12],
    }
    words = [
        "curl",
        request.build_absolute_uri("/api/v1/readings"),
        *("-H", f"Authorization: Bearer {secret}"),
        *("-H", "Content-Type: application/json"),
        *("-d", json.dumps({"readings": [reading]})),
    ]
    return shlex.join(words)


def _seen(request: MemberRequest) -> QuerySet[ApiToken]:
    """The tokens this member may see and end."""
    seen = Q(member=request.member)
    if request.may.manage_fleet:
        seen |= Q(member=None)
    return (
        ApiToken.objects.filter(seen)
        .select_related("member__user", "created_by__user")
        .prefetch_related("machines", "yards")
        .order_by("revoked_at", "-created_at", "-pk")
    )
