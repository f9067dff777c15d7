"""What is overdue is said once of many duties, by the database, and once of one, by its mark: they agree.

The rule: the hours have come to the mark or the day has begun (common practice, no source; 14 CFR 91.409(b)
counts an aircraft's 100 hours to the tenth in the same way: at 100.0 the inspection is due).
"""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import product

import pytest

from fleet.models import Machine
from servicing.models import Duty
from servicing.planning.intervals import Mark
from tests.factories import DutyFactory, MachineFactory, TaskFactory

TODAY = date(2026, 5, 4)
HOURS = Decimal("1204.5")
MARKS = [
    Mark(hours, on)
    for hours, on in product(
        (None, HOURS - Decimal("0.01"), HOURS, HOURS + Decimal("0.01")),
        (None, TODAY - timedelta(days=1), TODAY, TODAY + timedelta(days=1)),
    )
    if hours is not None or on is not None
]


@pytest.fixture
def duties(in_farm):
    """A duty at every mark around the hours and the day: live, finished, and of a retired machine."""
    made = []
    for retired_on in (None, TODAY):
        machine = MachineFactory(
            organisation=in_farm.organisation, yard=in_farm.yard, hours=HOURS, retired_on=retired_on
        )
        version = DutyFactory(machine=machine, mark_hours=HOURS + 100).task.version
        for mark, active in product(MARKS, (True, False)):
            task = TaskFactory(version=version)
            made.append(
                DutyFactory(machine=machine, task=task, mark_hours=mark.hours, mark_on=mark.on, active=active)
            )
    return made


def test_the_database_and_the_mark_agree(duties):
    found = set(Duty.objects.overdue(TODAY).values_list("pk", flat=True))
    in_service = [duty for duty in duties if duty.machine.retired_on is None]
    assert found == {duty.pk for duty in in_service if duty.is_overdue(TODAY)}
    assert 0 < len(found) < len(in_service)
    assert set(Duty.objects.live()) == set(Duty.objects.overdue(TODAY)) | set(Duty.objects.ahead(TODAY))
    assert not set(Duty.objects.overdue(TODAY)) & set(Duty.objects.ahead(TODAY))


def test_a_mark_is_reached_at_its_hours_and_on_its_day():
    reached = {mark for mark in MARKS if mark.is_reached(HOURS, TODAY)}
    above, tomorrow = HOURS + Decimal("0.01"), TODAY + timedelta(days=1)
    assert set(MARKS) - reached == {Mark(above), Mark(None, tomorrow), Mark(above, tomorrow)}
    assert not Mark().is_reached(HOURS, TODAY)


def test_each_machine_is_told_how_many_of_its_duties_are(duties):
    counted = Machine.objects.annotate(number=Duty.objects.overdue(TODAY).number_on_machine())
    assert dict(counted.values_list("retired_on", "number")) == {
        None: sum(mark.is_reached(HOURS, TODAY) for mark in MARKS),
        TODAY: 0,
    }


def test_the_day_is_the_yards(in_farm, time_machine):
    """In Madrid the fourth of May has begun when it is still the third in UTC."""
    time_machine.move_to(datetime(2026, 5, 3, 22, 30, tzinfo=UTC), tick=False)
    machine = MachineFactory(organisation=in_farm.organisation, yard=in_farm.yard)
    duty = DutyFactory(machine=machine, mark_on=TODAY)
    assert duty.is_overdue(machine.today())
