"""The people of the organisation: who they are, what they may do, and how they get in."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.accounts import invitations, members
from fleet.core.errors import FleetError
from fleet.models import Member, Newcomer
from fleet.web.confirm import confirmed
from fleet.web.forms.people import MemberForm, PersonForm
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs

PAGE = 20


@needs("manage_people")
def listed(request: MemberRequest) -> HttpResponse:
    """List the members with their roles, and who was asked and isn't in yet."""
    everybody = Member.objects.select_related("user").order_by("-active", "user__first_name", "pk")
    page = Paginator(everybody, PAGE).get_page(request.GET.get("page"))
    awaited = Newcomer.objects.awaited()
    return render(request, "fleet/people.html", {"page": page, "awaited": awaited})


@needs("manage_people")
@confirmed
def new(request: MemberRequest) -> HttpResponse:
    """Ask a person in, by mail."""
    form = PersonForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            newcomer = invitations.ask(member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            sentence = _("{person} will get a mail with a link at {address}.")
            messages.success(request, sentence.format(person=newcomer, address=newcomer.email))
            return redirect("people")
    return render(request, "fleet/person_new.html", {"form": form}, status=422 if form.errors else 200)


@require_POST
@needs("manage_people")
@confirmed
def ask_again(request: MemberRequest, pk: int) -> HttpResponse:
    """Mail a newcomer another link."""
    newcomer = get_object_or_404(Newcomer, pk=pk)
    try:
        invitations.ask_again(newcomer=newcomer, member=request.member)
    except FleetError as error:
        messages.error(request, error.sentence)
    else:
        sentence = _("{person} will get another mail. The earlier link no longer works.")
        messages.success(request, sentence.format(person=newcomer))
    return redirect("people")


@require_POST
@needs("manage_people")
def withdraw(request: MemberRequest, pk: int) -> HttpResponse:
    """Take back that somebody was asked in."""
    newcomer = get_object_or_404(Newcomer, pk=pk)
    try:
        invitations.withdraw(newcomer=newcomer, member=request.member)
    except FleetError as error:
        messages.error(request, error.sentence)
    else:
        sentence = _("{person}'s invitation is withdrawn. The link no longer works.")
        messages.success(request, sentence.format(person=newcomer))
    return redirect("people")


@needs("manage_people")
@confirmed
def person(request: MemberRequest, pk: int) -> HttpResponse:
    """Change a member's role, switch them off or on."""
    changed = _member(pk)
    initial = {"role": changed.role, "active": changed.active, "mail": changed.mail}
    form = MemberForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            members.change(person=changed, member=request.member, **form.cleaned_data)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, _("{what} is changed.").format(what=changed))
            return redirect("people")
    return render(
        request, "fleet/person.html", {"person": changed, "form": form}, status=422 if form.errors else 200
    )


@require_POST
@needs("manage_people")
@confirmed
def link(request: MemberRequest, pk: int) -> HttpResponse:
    """Mail a member a link with which they choose a new password."""
    person = _member(pk)
    try:
        members.mail_link(person=person, member=request.member)
    except FleetError as error:
        messages.error(request, error.sentence)
    else:
        sentence = _("{person} will get a mail with a link to choose a password.")
        messages.success(request, sentence.format(person=person))
    return redirect("person", pk)


def _member(pk: int) -> Member:
    return get_object_or_404(Member.objects.select_related("user"), pk=pk)
