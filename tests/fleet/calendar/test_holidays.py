"""Holidays of the yards."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from fleet.calendar import holidays
from fleet.core.errors import FleetError, NotAllowed
from fleet.models import Holiday, Machine
from tests.factories import HolidayFactory, MachineFactory, YardFactory

DAY = date(2026, 12, 25)


@pytest.fixture
def two(in_farm):
    """A machine in each of two yards."""
    other = YardFactory(organisation=in_farm.organisation)
    return [MachineFactory(organisation=in_farm.organisation, yard=yard) for yard in (in_farm.yard, other)]


def wanted():
    found = list(Machine.objects.awaiting_projection().order_by("pk"))
    Machine.objects.update(projection_wanted_at=None)
    return found


def test_a_holiday_concerns_its_yard_or_all(in_farm, two):
    made = holidays.add(name=" Fair ", first_on=DAY, last_on=None, yard=in_farm.yard, member=in_farm.manager)
    assert (made.name, made.last_on, wanted()) == ("Fair", DAY, two[:1])
    holidays.add(name="Christmas", first_on=DAY, last_on=None, yard=None, member=in_farm.owner)
    assert wanted() == two


def test_a_holiday_that_moves_concerns_both_yards(in_farm, two):
    holiday = HolidayFactory(organisation=in_farm.organisation, yard=in_farm.yard)
    holidays.change(
        holiday=holiday,
        name="Fair",
        first_on=DAY,
        last_on=DAY.replace(day=27),
        yard=two[1].yard,
        member=in_farm.owner,
    )
    assert wanted() == two
    holidays.remove(holiday=holiday, member=in_farm.owner)
    assert (wanted(), Holiday.objects.exists()) == (two[1:], False)


def test_who_may(in_farm, stranger):
    holiday = HolidayFactory(organisation=in_farm.organisation)
    for member in (in_farm.counter, in_farm.technician, stranger.owner):
        with pytest.raises(NotAllowed):
            holidays.remove(holiday=holiday, member=member)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"name": " "}, "name"),
        ({"last_on": date(2026, 12, 24)}, "last_on"),
        ({"last_on": date(2028, 1, 1)}, "last_on"),
    ],
)
def test_what_cannot_be_is_refused(in_farm, wrong, field):
    entered = {"name": "Fair", "first_on": DAY, "last_on": None, "yard": None} | wrong
    with pytest.raises(FleetError) as refused:
        holidays.add(**entered, member=in_farm.owner)
    assert refused.value.field == field


def test_a_holiday_may_last_a_leap_year(in_farm):
    entered = {"name": "Fallow", "first_on": DAY, "yard": None, "member": in_farm.owner}
    with pytest.raises(FleetError) as refused:
        holidays.add(**entered, last_on=DAY + timedelta(days=366))
    assert refused.value.field == "last_on"
    assert holidays.add(**entered, last_on=DAY + timedelta(days=365)).last_on == DAY + timedelta(days=365)


def test_a_strangers_yard_is_refused(in_farm, stranger):
    with pytest.raises(FleetError) as refused:
        holidays.add(name="Fair", first_on=DAY, last_on=None, yard=stranger.yard, member=in_farm.owner)
    assert refused.value.field == "yard"


def test_the_database_refuses_an_end_before_the_beginning(in_farm):
    with pytest.raises(IntegrityError, match="holiday_ends_after_it_began"), transaction.atomic():
        HolidayFactory(organisation=in_farm.organisation, first_on=DAY, last_on=date(2026, 12, 24))
