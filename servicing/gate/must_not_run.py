"""Which machines must not run now: tagged out, with a grave fault, or overdue on a day they are wanted."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Q

from fleet.models import Booking, Hire, Machine, TagOut
from servicing.models import Duty, Fault


@dataclass(eq=False)
class Stopped:
    """A machine that must not run, and why; at least one of the three lists has something."""

    machine: Machine
    tag_outs: list[TagOut] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    overdue: list[Duty] = field(default_factory=list)
    hire: Hire | None = None
    booking: Booking | None = None

    @property
    def must_stand(self) -> bool:
        """Whether it must not run at all; else it runs although it is overdue."""
        return bool(self.tag_outs or self.faults)

    @property
    def state(self) -> str:
        """The graver of what makes it stand, in the word of a state."""
        return "tagged out" if self.tag_outs else "fix first"


def must_not_run(overdue: Iterable[Duty], day: date) -> list[Stopped]:
    """Return the machines that must not run on this day, gravest first, then by fleet number.

    A tag-out and a grave fault each stop a machine. After these come machines that are overdue and that
    somebody has on hire or booked for the day: they run although they should be serviced. What is deferred
    doesn't count.

    overdue: all that is overdue, with machines and orders. Four queries. Needs the organisation's scope.
    """
    stopped: dict[int, Stopped] = {}

    def of(machine: Machine) -> Stopped:
        return stopped.setdefault(machine.pk, Stopped(machine))

    for tag_out in TagOut.objects.open().select_related("machine__type", "machine__yard", "placed_by__user"):
        of(tag_out.machine).tag_outs.append(tag_out)
    in_service = Fault.objects.grave().filter(machine__retired_on=None)
    for fault in in_service.select_related("machine__type", "machine__yard", "reported_by__user"):
        of(fault.machine).faults.append(fault)
    late = [duty for duty in overdue if not duty.is_deferred(day)]
    here = {duty.machine_id for duty in late}
    hires = {hire.machine_id: hire for hire in Hire.objects.open().filter(machine__in=here)}
    today = Q(first_on__lte=day, last_on__gte=day)
    bookings = {
        booking.machine_id: booking for booking in Booking.objects.standing().filter(today, machine__in=here)
    }
    for duty in late:
        pk = duty.machine_id
        if pk in stopped or pk in hires or pk in bookings:
            each = of(duty.machine)
            each.overdue.append(duty)
            each.hire, each.booking = hires.get(pk), bookings.get(pk)
    return sorted(stopped.values(), key=_gravest)


def _gravest(each: Stopped) -> tuple[bool, bool, str]:
    return not each.tag_outs, not each.faults, each.machine.tag
