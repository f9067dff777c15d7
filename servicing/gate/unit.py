"""A unit at the gate: locked, its hours taken in, its fuel checked."""

from datetime import datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from fleet import readings
from fleet.calendar.commitments import hold
from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.core.wording import hours
from fleet.models import Machine, Member, Reading


def lock_unit(machine: Machine, member: Member) -> Machine:
    """Return the machine as it is now, locked until the transaction ends."""
    require(member, "gate", _("send units out or take them back"), machine)
    return hold(machine)


def check_fuel(fuel: int | None) -> None:
    if fuel is not None and not 0 <= fuel <= 100:
        raise FleetError(_("Enter the fuel as 0 to 100 per cent of a full tank."), field="fuel")


def take_hours(
    machine: Machine, shows: Decimal | None, member: Member, now: datetime
) -> tuple[Reading | None, str]:
    """Hand the hours to fleet; return the reading and, when it is held, a sentence that says so."""
    if shows is None:
        return None, ""
    [receipt] = readings.take(
        organisation=machine.yard.organisation,
        rows=[readings.Submitted(machine=machine.pk, taken_at=now, shows=shows)],
        source=Reading.Source.GATE,
        sender="gate",
        member=member,
        now=now,
    )
    reading = receipt.reading
    if reading is None:
        raise FleetError(receipt.reason, field="shows")
    machine.refresh_from_db(fields=["hours", "hours_at", "projection_wanted_at"])
    if reading.state != Reading.State.HELD:
        return reading, ""
    said = _(
        "The hours typed ({typed}) are held and don't count yet: {reason} "
        "Until someone decides, the machine stays at {hours}."
    )
    return reading, said.format(typed=hours(reading.shows), reason=reading.reason, hours=hours(machine.hours))
