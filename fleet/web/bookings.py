"""Bookings of a machine: made from its page, changed and withdrawn on their own."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from fleet import bookings
from fleet.errors import FleetError
from fleet.models import Booking, Machine
from fleet.web.forms.calendar import BookingForm
from fleet.web.forms.refusals import show
from fleet.web.guards import needs


@needs("gate")
def new(request: HttpRequest, pk: int) -> HttpResponse:
    """Book a machine."""
    machine = get_object_or_404(Machine.objects.visible_to(request.member).select_related("type"), pk=pk)
    form = BookingForm(request.POST if request.method == "POST" else None, member=request.member)
    if request.method == "POST" and form.is_valid():
        try:
            booking = bookings.book(machine=machine, facts=form.facts(), member=request.member)
        except FleetError as error:
            show(error, form)
        else:
            messages.success(request, f"{booking} is booked; its due days are worked out anew.")
            return redirect(machine)
    return _page(request, form, machine, None)


@needs("gate")
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a booking that stands."""
    booking = _standing(request, pk)
    if request.method == "POST":
        form = BookingForm(request.POST, member=request.member)
        if form.is_valid():
            try:
                bookings.change(booking=booking, facts=form.facts(), member=request.member)
            except FleetError as error:
                show(error, form)
            else:
                messages.success(request, f"{booking} is changed; its due days are worked out anew.")
                return redirect(booking.machine)
    else:
        form = BookingForm(member=request.member, booking=booking)
    return _page(request, form, booking.machine, booking)


@require_POST
@needs("gate")
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Call a booking off."""
    booking = _standing(request, pk)
    bookings.withdraw(booking=booking, member=request.member)
    messages.success(request, f"{booking} is withdrawn; its due days are worked out anew.")
    return redirect(booking.machine)


def _standing(request: HttpRequest, pk: int) -> Booking:
    booking = get_object_or_404(Booking.objects.standing().select_related("machine__type"), pk=pk)
    if not bookings.may_book(request.member, booking.kind):
        raise PermissionDenied("Your role books hires only.")
    return booking


def _page(request: HttpRequest, form: BookingForm, machine: Machine, booking: Booking | None) -> HttpResponse:
    context = {"form": form, "machine": machine, "booking": booking}
    return render(request, "fleet/booking.html", context, status=422 if form.errors else 200)
