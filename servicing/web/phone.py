"""The page behind a machine's sticker: what does the meter show now? Works in a shed without a line."""

import json
from dataclasses import asdict
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.contrib import messages
from django.core.serializers.json import DjangoJSONEncoder
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.csrf import ensure_csrf_cookie
from django_scopes import scopes_disabled

from fleet.core import number_reader
from fleet.core.errors import FleetError
from fleet.core.sticker_codes import read_code
from fleet.models import Machine, Member
from fleet.readings import mobile_entry
from fleet.web.forms.fields import HoursField, PhotoField
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, members_only
from fleet.web.headers import kept_offline
from servicing.duties.machine_cards import Card, cards
from servicing.web.service_worker import scripts_of

MARKS = ("waiting", "counted", "held", "discarded", "refused")  # what an entry on a phone may be


class EntryForm(forms.Form):
    """What one look at the meter tells."""

    shows = HoursField(label=_("What the meter shows"))
    photo = PhotoField(label=_("Photo of the meter"), required=False)
    note = forms.CharField(label=_("Note"), required=False, max_length=2000)
    client_id = forms.CharField(widget=forms.HiddenInput, required=False, max_length=80)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound:
            self.initial.setdefault("client_id", uuid4().hex)


@kept_offline
@ensure_csrf_cookie
@members_only
def phone_home(request: MemberRequest) -> HttpResponse:
    """Ask which machine, by ?machine= a code or a tag; a phone keeps this page for all stickers."""
    asked = request.GET.get("machine", "").strip()
    if not asked:
        return _page(request, None, EntryForm())
    machines = Machine.objects.visible_to(request.member)
    found = machines.filter(code=read_code(asked)).first() or machines.called(asked)
    if found:
        return redirect("phone-machine", found.code)
    return _page(request, None, EntryForm(), unknown=asked, status=404)


@kept_offline
@ensure_csrf_cookie
@members_only
def phone_machine(request: MemberRequest, code: str) -> HttpResponse:
    """Take in what the meter of the machine with this code shows."""
    read = read_code(code)
    card = next(iter(cards(request.member, code=read)), None)
    if card is None:
        return _elsewhere(request, read)
    if read != code:
        return redirect("phone-machine", read)
    if request.method != "POST":
        return _page(request, card, EntryForm())
    form = EntryForm(request.POST, request.FILES)
    if form.is_valid():
        entered = form.cleaned_data
        try:
            receipt = mobile_entry.enter(
                member=request.member,
                machine=card.machine,
                taken_at=timezone.now().replace(microsecond=0),
                shows=entered["shows"],
                client_id=entered["client_id"],
                note=entered["note"],
            )
        except FleetError as error:
            show(error, form)
        else:
            if entered["photo"] is not None:
                _keep_photo(request, receipt.reading, entered["photo"])
            return redirect("reading", receipt.reading_id)
    return _page(request, card, form, status=422)


def _keep_photo(request: MemberRequest, reading: Any, photo: Any) -> None:
    """Keep the photo beside its reading; a refused one doesn't undo the reading."""
    try:
        mobile_entry.add_photo(reading=reading, photo=photo, member=request.member)
    except FleetError as error:
        messages.error(request, error.sentence)


def _elsewhere(request: MemberRequest, code: str) -> HttpResponse:
    """No meter behind this code: an attachment leads to its host, a retired machine to its page."""
    own = Machine.objects.visible_to(request.member)
    machine = own.with_host().select_related("type").filter(code=code).first()
    if machine is None:
        return _page(request, None, EntryForm(), unknown=code, other=_other(request, code), status=404)
    host = own.filter(pk=machine.host_id).first()
    if host is None:
        said = gettext("No hours can be entered for {machine} now; here is its page.")
        messages.warning(request, said.format(machine=machine))
        return redirect(machine)
    said = gettext("{machine} has no meter; it counts the hours of {host}, on which it is mounted.")
    messages.info(request, said.format(machine=machine, host=host))
    return redirect("phone-machine", host.code)


def _other(request: MemberRequest, code: str) -> Member | None:
    """One's own membership of another organisation, whose sticker it is."""
    with scopes_disabled():  # one's own memberships, in every organisation
        theirs = Machine.objects.filter(code=code).values("organisation")
        own = Member.objects.active().filter(user=request.user, organisation__in=theirs)
        return own.select_related("organisation").first()


def _page(
    request: MemberRequest,
    card: Card | None,
    form: EntryForm,
    *,
    unknown: str = "",
    other: Member | None = None,
    status: int = 200,
) -> HttpResponse:
    context = {
        "card": card,
        "form": form,
        "unknown": unknown,
        "other": other,
        "facts": _facts(request, card, unknown),
        "marks": MARKS,
    }
    return render(request, "servicing/phone.html", context, status=status)


def _facts(request: MemberRequest, card: Card | None, unknown: str) -> str:
    """Return what the page's scripts need to know, as JSON."""
    facts = {
        "member": request.member.pk,
        "name": str(request.member),
        "card": asdict(card) if card else None,
        "unknown": unknown,
        "api": reverse("api-phone"),
        "home": reverse("phone"),
        "sign_in": reverse("login"),
        "worker": reverse("service-worker"),
        "scripts": scripts_of("hourmark/phone.js"),
        "hours": rules_of_hours(),
    }
    return json.dumps(facts, cls=DjangoJSONEncoder)


def rules_of_hours() -> dict[str, Any]:
    """Return how hours are read, and what is said of those that can't be."""
    field = cast(HoursField, EntryForm.base_fields["shows"])
    digits, places = cast(int, field.max_digits), cast(int, field.decimal_places)
    said = {name: str(field.error_messages[name]) for name in ("required", "invalid")}
    return {**number_reader.rules(), "digits": digits - places, "places": places, **said}
