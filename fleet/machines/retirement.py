"""Machines are taken out of service, and back where that was a slip."""

from collections.abc import Callable, Iterator
from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.models import Booking, Machine, Member, Mounting
from fleet.readings.propagation import hours_moved
from fleet.usage.figures import days_from_to

what_keeps: list[Callable[[Machine], list[str]]] = []
"""Asked before a machine is retired: sentences of what is open for it, each with what to do about it."""


def retire(*, machine: Machine, on: date, member: Member) -> Machine:
    """Take a machine out of service from a day on; its history stays.

    Raises NotAllowed; FleetError on `on` for a day to come or before it was in service, or when it is retired
    already; FleetError that names all that is open for it: a hire, mountings, bookings, and what the
    functions in `what_keeps` know of.
    """
    require(member, "manage_fleet", _("change machines"), machine)
    with transaction.atomic():
        machine = (
            Machine.objects.select_related("type", "yard__organisation")
            .select_for_update(of=("self",))
            .get(pk=machine.pk)
        )
        if machine.retired_on:
            raise FleetError(_("It is retired already. Reload the page."))
        if on > machine.today():
            raise FleetError(_("That day is in the future. Retire it on the day."), field="on")
        if on < machine.in_service_on:
            raise FleetError(_("It was not in service yet on that day. Choose a later one."), field="on")
        if kept := [*_keeps(machine), *(said for asked in what_keeps for said in asked(machine))]:
            raise FleetError(" ".join(kept))
        machine.retired_on = on
        machine.save(update_fields=["retired_on"])
        hours_moved({machine.pk: machine}, now=timezone.now())
    return machine


def bring_back(*, machine: Machine, member: Member) -> Machine:
    """Take a retired machine into service again. Raises NotAllowed."""
    require(member, "manage_fleet", _("change machines"), machine)
    with transaction.atomic():
        machine = Machine.objects.select_for_update().get(pk=machine.pk)
        machine.retired_on = None
        machine.save(update_fields=["retired_on"])
        hours_moved({machine.pk: machine}, now=timezone.now())
    return machine


def _keeps(machine: Machine) -> Iterator[str]:
    """What is open for a machine here, in sentences."""
    if hire := machine.hires.open().first():
        yield _("It is out with {hirer}; take it back at the gate first.").format(hirer=hire.hirer)
    for mounting in machine.carried.open().select_related("attachment"):
        said = _("{attachment} is still mounted on it. Remove it first.")
        yield said.format(attachment=mounting.attachment)
    hung = Mounting.objects.open().filter(attachment=machine.pk)
    if mounting := hung.select_related("machine").first():
        yield _("It is mounted on {machine}. Remove it there first.").format(machine=mounting.machine)
    for booking in Booking.objects.standing().from_day(machine.today()).filter(machine=machine):
        days = days_from_to(booking.first_on, booking.last_on)
        said = _("It is booked for {what}, {days}; cancel the booking first.")
        yield said.format(what=booking.what, days=days)
