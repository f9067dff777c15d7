"""Bookings of a machine: made from its page, changed and withdrawn on their own."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.calendar import asks, bookings
from fleet.core.errors import FleetError
from fleet.models import Ask, Booking, Machine
from fleet.web.forms.calendar import BookingForm
from fleet.web.forms.despite import AskForm, refuse
from fleet.web.guards import MemberRequest, needs


@needs("gate")
def new(request: MemberRequest, pk: int) -> HttpResponse:
    """Book a machine, or ask for it where something is in the way that others may overrule."""
    machine = get_object_or_404(Machine.objects.visible_to(request.member).select_related("type"), pk=pk)
    asked = {name: request.GET[name] for name in ("what", "first_on", "last_on") if name in request.GET}
    form = BookingForm(
        request.POST if request.method == "POST" else None, member=request.member, initial=asked
    )
    note = AskForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid() & note.is_valid():
        try:
            if "ask" in request.POST:
                words = note.cleaned_data["ask_note"]
                bookings.ask_for(machine=machine, facts=form.facts(), member=request.member, note=words)
                messages.success(request, _("Asked for. The planners now see it on their Today page."))
                return redirect(machine)
            booking = bookings.book(
                machine=machine, facts=form.facts(), member=request.member, override_reason=form.reason()
            )
        except FleetError as error:
            _refuse(form, error)
        else:
            sentence = _("{booking} is booked. Its due days are being worked out again.")
            messages.success(request, sentence.format(booking=booking))
            return redirect(machine)
    return _page(request, form, machine, None, note)


@needs("gate")
def edit(request: MemberRequest, pk: int) -> HttpResponse:
    """Change a booking that stands."""
    booking = _standing(request, pk)
    if request.method == "POST":
        form = BookingForm(request.POST, member=request.member)
        if form.is_valid():
            try:
                bookings.change(
                    booking=booking,
                    facts=form.facts(),
                    member=request.member,
                    override_reason=form.reason(),
                )
            except FleetError as error:
                _refuse(form, error)
            else:
                sentence = _("{booking} is changed. Its due days are being worked out again.")
                messages.success(request, sentence.format(booking=booking))
                return redirect(booking.machine)
    else:
        form = BookingForm(member=request.member, booking=booking)
    return _page(request, form, booking.machine, booking)


@require_POST
@needs("gate")
def withdraw(request: MemberRequest, pk: int) -> HttpResponse:
    """Call a booking off."""
    booking = _standing(request, pk)
    bookings.withdraw(booking=booking, member=request.member)
    sentence = _("{booking} is cancelled. Its due days are being worked out again.")
    messages.success(request, sentence.format(booking=booking))
    return redirect(booking.machine)


def _standing(request: MemberRequest, pk: int) -> Booking:
    booking = get_object_or_404(Booking.objects.standing().select_related("machine__type"), pk=pk)
    if not bookings.may_book(request.member, booking.kind):
        raise PermissionDenied(_("Your role can book hires only."))
    return booking


def _refuse(form: BookingForm, error: FleetError) -> None:
    """Say what is in the way; ask those for a reason who may overrule it."""
    form.in_the_way = getattr(error, "conflicts", ()) if error.field is None else ()
    refuse(error, form)


def _page(
    request: MemberRequest,
    form: BookingForm,
    machine: Machine,
    booking: Booking | None,
    note: AskForm | None = None,
) -> HttpResponse:
    standing = Ask.objects.standing().filter(machine=machine, matter=asks.Matter.BOOK)
    context = {
        "form": form,
        "machine": machine,
        "booking": booking,
        "note": note if form.in_the_way and asks.may_ask(request.member, asks.Matter.BOOK) else None,
        "asks": standing.select_related("asked_by__user"),
    }
    return render(request, "fleet/booking.html", context, status=422 if form.errors else 200)
