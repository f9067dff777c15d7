"""The people of the organisation: who they are, what they may do, and how they get in."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from fleet import people
from fleet.errors import FleetError
from fleet.models import Member
from fleet.web.forms.people import MemberForm, PersonForm, WelcomeForm
from fleet.web.forms.refusals import show
from fleet.web.guards import needs

PAGE = 100


@needs("manage_people")
def listed(request: HttpRequest) -> HttpResponse:
    """List the members with their roles."""
    members = Member.objects.select_related("user").order_by("-active", "user__first_name", "pk")
    page = Paginator(members, PAGE).get_page(request.GET.get("page"))
    return render(request, "fleet/people.html", {"page": page})


@never_cache
@needs("manage_people")
def new(request: HttpRequest) -> HttpResponse:
    """Add a person and show the link that lets them in. The link is on this answer alone."""
    form = PersonForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            person = people.add(member=request.member, **form.cleaned_data)
            return _link(request, person)
        except FleetError as error:
            show(error, form)
    return render(request, "fleet/person_new.html", {"form": form}, status=422 if form.errors else 200)


@needs("manage_people")
def person(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a member's role, switch them off or on."""
    changed = _member(pk)
    initial = {"role": changed.role, "active": changed.active, "mail": changed.mail}
    form = MemberForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            people.change(person=changed, member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, f"{changed} is changed.")
            return redirect("people")
    return render(
        request, "fleet/person.html", {"person": changed, "form": form}, status=422 if form.errors else 200
    )


@never_cache
@require_POST
@needs("manage_people")
def link(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a new link for a member and show it once."""
    try:
        return _link(request, _member(pk))
    except FleetError as error:
        messages.error(request, error.sentence)
        return redirect("person", pk)


@never_cache
@sensitive_post_parameters()
def welcome(request: HttpRequest, uid: str, secret: str) -> HttpResponse:
    """Let the one who holds the link set a password, and sign them in."""
    user = people.invited(uid=uid, secret=secret)
    if user is None:
        return render(request, "fleet/welcome_ended.html", status=410)
    form = WelcomeForm(request.POST if request.method == "POST" else None, user=user)
    if request.method == "POST" and form.is_valid():
        try:
            user = people.accept(uid=uid, secret=secret, password=form.cleaned_data["password"])
        except FleetError:
            return render(request, "fleet/welcome_ended.html", status=410)
        login(request, user, backend=settings.AUTHENTICATION_BACKENDS[0])
        return redirect("today")
    return render(
        request, "fleet/welcome.html", {"person": user, "form": form}, status=422 if form.errors else 200
    )


def _member(pk: int) -> Member:
    return get_object_or_404(Member.objects.select_related("user"), pk=pk)


def _link(request: HttpRequest, person: Member) -> HttpResponse:
    """Show a new link. It is neither stored nor put into an address that leads here again."""
    invitation = people.invite(person=person, member=request.member)
    address = request.build_absolute_uri(reverse("welcome", args=[invitation.uid, invitation.secret]))
    return render(request, "fleet/person_link.html", {"person": person, "address": address})
