"""An attachment runs its host's hours while it is mounted."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from fleet import readings
from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.machines import attachments
from fleet.models import Attachment
from fleet.readings import Submitted

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def day(number):
    return NOON + timedelta(days=number)


@pytest.fixture
def machine(in_farm, machine):
    ran(in_farm, machine, (0, 100), (10, 140))
    return machine


@pytest.fixture
def cutter(in_farm):
    return in_farm.attachment(tag="A-01", hours_before=Decimal(30))


def ran(house, machine, *hours_on_days):
    rows = [Submitted(machine.pk, day(number), hours) for number, hours in hours_on_days]
    readings.take(organisation=house.organisation, rows=rows, source="page", sender="page")


def hours_of(attachment):
    return Attachment.objects.get(pk=attachment.pk).hours


def test_hours_accrue_while_it_is_mounted_and_stop_when_it_is_off(in_farm, machine, cutter):
    attachments.mount(attachment=cutter, machine=machine, at=day(10), member=in_farm.technician)
    assert hours_of(cutter) == 30
    ran(in_farm, machine, (20, 165))
    assert hours_of(cutter) == 55
    attachments.remove(attachment=cutter, at=day(20), member=in_farm.technician)
    ran(in_farm, machine, (30, 200))
    assert hours_of(cutter) == 55


def test_a_mounting_noted_afterwards_takes_the_hours_of_that_day(in_farm, machine, cutter):
    mounting = attachments.mount(attachment=cutter, machine=machine, at=day(5), member=in_farm.technician)
    assert mounting.hours_on == 120  # half way between 100 and 140
    assert hours_of(cutter) == 50


def test_it_hangs_on_one_machine_at_a_time(in_farm, machine, cutter):
    attachments.mount(attachment=cutter, machine=machine, at=day(5), member=in_farm.technician)
    other = in_farm.machine()
    with pytest.raises(WrongState, match=r"A-01 is on T-07\. Remove it there first"):
        attachments.mount(attachment=cutter, machine=other, at=day(6), member=in_farm.technician)
    attachments.remove(attachment=cutter, at=day(8), member=in_farm.technician)
    with pytest.raises(FleetError) as error:
        attachments.mount(attachment=cutter, machine=other, at=day(7), member=in_farm.technician)
    assert error.value.field == "at"
    attachments.mount(attachment=cutter, machine=other, at=day(8), member=in_farm.technician)


def test_taking_off_needs_a_mounting_that_had_begun(in_farm, machine, cutter):
    with pytest.raises(WrongState):
        attachments.remove(attachment=cutter, at=day(8), member=in_farm.technician)
    attachments.mount(attachment=cutter, machine=machine, at=day(5), member=in_farm.technician)
    for moment in (day(4), datetime.now(UTC) + timedelta(days=1)):
        with pytest.raises(FleetError) as error:
            attachments.remove(attachment=cutter, at=moment, member=in_farm.technician)
        assert error.value.field == "at"


def test_only_within_the_organisation(in_farm, stranger, machine, cutter):
    theirs = stranger.machine()
    with pytest.raises(NotAllowed):
        attachments.mount(attachment=cutter, machine=theirs, at=day(1), member=in_farm.manager)
    with pytest.raises(NotAllowed):
        attachments.mount(attachment=cutter, machine=machine, at=day(1), member=stranger.owner)
