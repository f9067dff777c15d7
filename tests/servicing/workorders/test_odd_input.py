"""Odd histories, all the way to the duty and the machine's page: each gets an answer or a plain reason.

The same list as in tests/fleet/usage/test_pace.py, here through readings, rows and words.
"""

import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from fleet import readings
from fleet.readings import Submitted, meter_changes
from servicing.duties import projection
from servicing.duties.refresh import refresh_duties
from servicing.models import Duty
from servicing.planning.intervals import Mark
from tests.factories import (
    IntervalFactory,
    MachineTypeFactory,
    ProgramFactory,
    ProgramVersionFactory,
    TaskFactory,
)

NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
TODAY = date(2026, 6, 1)

HISTORIES = {
    "no readings": [],
    "one reading": [(3, 12)],
    "an idle year": [(400, 60), (200, 60), (1, 60)],
    "a burst after a silent month": [(70, 0), (40, 60), (0.06, 60), (0.04, 60.4), (0.02, 60.8), (0.01, 61)],
    "round the clock": [(3, 0), (1, 48)],
    "stands still": [(30, 40), (10, 40)],
}
pytestmark = pytest.mark.time_machine(NOW, tick=False)


def machine_with(farm, history, every=100, **more):
    """A machine, the only one of its type, with readings (days ago, hours) and a task each so many hours."""
    kind = MachineTypeFactory(organisation=farm.organisation)
    program = ProgramFactory(organisation=farm.organisation, machine_type=kind)
    version = ProgramVersionFactory(program=program, made_at=NOW - timedelta(days=500))
    IntervalFactory(task=TaskFactory(version=version), every_hours=Decimal(every))
    machine = farm.machine(type=kind, **more)
    machine.segments.update(started_at=NOW - timedelta(days=500))
    take(farm, machine, [(NOW - timedelta(days=ago), hours) for ago, hours in history])
    return machine


def take(farm, machine, history):
    rows = [Submitted(machine.pk, moment, Decimal(str(hours))) for moment, hours in history]
    receipts = readings.take(organisation=farm.organisation, rows=rows, source="page", sender="test")
    assert {receipt.state for receipt in receipts} <= {"counted"}
    machine.refresh_from_db()


def duty_of(machine):
    refresh_duties(machine_ids=[machine.pk])
    duty = Duty.objects.get(machine=machine)
    known = [day for day in (duty.early, duty.likely, duty.late) if day is not None]
    assert known == sorted(known)
    assert duty.early is not None or duty.late is None
    return duty


def page(farm, machine):
    """The machine's page, without the tokens of its forms: these are of random letters."""
    answer = farm.client("manager").get(f"/machines/{machine.pk}/")
    assert answer.status_code == 200
    return re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", answer.content.decode())


@pytest.mark.parametrize("history", HISTORIES.values(), ids=HISTORIES.keys())
def test_every_history_gets_an_answer(farm, history):
    with farm.scope():
        machine = machine_with(farm, history)
        duty = duty_of(machine)
    assert duty.mark_hours == 100
    assert duty.early >= TODAY
    words = page(farm, machine)
    assert "nan" not in words.split("<main")[1].lower().replace("maintenance", "")
    assert "inf" not in words.split("What is due")[1].split("<table")[0].lower().replace("info", "")


def test_two_types_of_one_machine_each_answer_for_themselves(in_farm):
    slow = machine_with(in_farm, [(50 - n, n * 1) for n in range(0, 50, 5)])
    quick = machine_with(in_farm, [(50 - n, n * 6) for n in range(0, 50, 5)], every=400)
    refresh_duties(machine_ids=[slow.pk, quick.pk])
    one, other = duty_of(slow), duty_of(quick)
    assert (one.likely - TODAY).days == pytest.approx(50, abs=20)  # 55 h at an hour a day
    assert (other.likely - TODAY).days == pytest.approx(17, abs=6)  # 130 h at six, and five days not read


def test_a_mark_passed_is_past_and_says_since_when(in_farm):
    machine = machine_with(in_farm, [(60 - n, 2 * n) for n in range(0, 60, 5)])
    passed = projection.days([(machine, Mark(Decimal(90)))], now=NOW)[0]
    assert set(passed) == {(NOW - timedelta(days=15)).date()}, "read at 90 h fifteen days ago"


def test_a_mark_a_decade_off_is_not_within_three_years(farm):
    with farm.scope():
        machine = machine_with(farm, [(60 - n, n) for n in range(0, 60, 5)], every=5000)
        duty = duty_of(machine)
    assert (duty.early, duty.likely, duty.late) == (None, None, None)
    assert "not within 3 years" in page(farm, machine)


def test_a_meter_replaced_in_the_middle_changes_nothing(in_farm):
    plain = machine_with(in_farm, [(60 - n, 2 * n) for n in range(0, 61, 5)], every=200)
    swapped = machine_with(in_farm, [(60 - n, 2 * n) for n in range(0, 31, 5)], every=200)
    meter_changes.replace(
        machine=swapped,
        at=NOW - timedelta(days=30),
        old_shows=Decimal(60),
        new_shows=Decimal(0),
        member=in_farm.manager,
    )
    take(in_farm, swapped, [(NOW - timedelta(days=60 - n), 2 * n - 60) for n in range(35, 61, 5)])
    assert swapped.hours == plain.hours == 120
    one, other = duty_of(plain), duty_of(swapped)
    assert (one.early, one.likely, one.late) == (other.early, other.likely, other.late)


@pytest.mark.parametrize("change", [date(2026, 3, 29), date(2026, 10, 25)])
def test_a_change_of_the_clocks_moves_no_day(in_farm, time_machine, change):
    """Madrid's clocks go on or back within the days ahead; five hours a day are five hours a day."""
    start = datetime.combine(change - timedelta(days=5), NOW.timetz())
    time_machine.move_to(start)
    machine = machine_with(in_farm, [])
    take(in_farm, machine, [(start - timedelta(days=50 - n), 1.5 * n) for n in range(0, 51, 5)])
    duty = duty_of(machine)
    # 25 h to go at 1.5 h a day
    assert (duty.likely - start.date()).days == pytest.approx(17, abs=2)
    midnight = datetime(change.year, change.month, change.day, tzinfo=UTC)
    around = [(midnight + timedelta(hours=hour, minutes=30), 77 + hour / 10) for hour in (0, 1, 2)]
    time_machine.move_to(around[-1][0] + timedelta(hours=1))
    take(in_farm, machine, around)  # around the hour that is left out or comes twice
    assert duty_of(machine).likely is not None
