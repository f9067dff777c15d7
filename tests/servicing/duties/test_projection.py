"""The mark of a duty, and the days on which it is likely reached."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from fleet.models import Reading
from servicing.duties.refresh import refresh_all_duties
from servicing.models import Duty
from tests.servicing.duties.program_machines import (
    NOW,
    TODAY,
    add_machine,
    add_task,
    build_version,
    refresh,
    set_hours,
)

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_a_duty_is_made_with_mark_and_days_in_order(in_farm, version):
    task = add_task(version, every_hours=Decimal(250), every_months=12)
    machine = add_machine(in_farm, version, hours_a_day=2)

    assert refresh(machine) == 1

    duty = Duty.objects.get()
    assert (duty.task, duty.mark_hours, duty.mark_on) == (task, 250, date(2027, 1, 1))
    assert duty.early < duty.likely < duty.late
    # 10 h to go at 2 h a day, one day after the last reading
    assert TODAY + timedelta(days=3) <= duty.likely <= TODAY + timedelta(days=6)


def test_refreshing_again_changes_nothing(in_farm, version):
    add_task(version)
    machine = add_machine(in_farm, version, hours_a_day=2)
    refresh(machine)
    before = Duty.objects.values().get()
    assert refresh(machine) == 0
    assert Duty.objects.values().get() == before


def test_a_reading_that_crosses_the_mark_is_past_without_a_projection(in_farm, version):
    add_task(version)
    machine = add_machine(in_farm, version)
    refresh(machine)
    assert not Duty.objects.overdue(TODAY).exists()
    set_hours(machine, 100)
    assert Duty.objects.overdue(TODAY).get().mark_hours == 100


def test_a_machine_without_readings_gets_a_wide_answer(in_farm, version):
    add_task(version)
    quiet = add_machine(in_farm, version)
    refresh(quiet)
    duty = Duty.objects.get()
    assert duty.early > TODAY
    assert (duty.late or date.max) - TODAY > 3 * (duty.early - TODAY)


def test_kin_narrow_the_answer_of_a_new_machine(in_farm, version):
    add_task(version)
    lonely = add_machine(in_farm, version)
    refresh(lonely)
    alone = Duty.objects.get(machine=lonely)
    for _ in range(4):
        add_machine(in_farm, version, hours_a_day=5)
    refresh(lonely)
    among_kin = Duty.objects.get(machine=lonely)
    assert among_kin.likely < alone.likely
    assert among_kin.late - among_kin.early < alone.late - alone.early


def test_refreshing_one_machine_answers_as_refreshing_all(in_farm, version):
    add_task(version)
    other = build_version(in_farm)
    add_task(other)
    machines = [add_machine(in_farm, version, hours_a_day=pace) for pace in (1, 3, 5)]
    machines += [add_machine(in_farm, other, hours_a_day=2), add_machine(in_farm, other)]
    refresh_all_duties()
    together = list(Duty.objects.order_by("pk").values("machine", "early", "likely", "late"))
    assert len(together) == 5
    assert [refresh(machine) for machine in machines] == [0] * 5


def test_so_it_does_in_an_organisation_too_large_to_be_read_whole(in_farm, version, monkeypatch):
    """Only the first two machines of a type teach, whichever are asked for."""
    monkeypatch.setattr("servicing.duties.projection.WHOLE", 3)
    monkeypatch.setattr("servicing.duties.projection.KIN", 2)
    other = build_version(in_farm)
    add_task(version), add_task(version, "filter", every_hours=Decimal(250)), add_task(other)
    machines = [
        add_machine(in_farm, of, hours_a_day=pace, days=days)
        for of in (version, other)
        for pace, days in ((2, 60), (4, 500), (1, 30), (0, 0), (6, 90))
    ]
    refresh_all_duties()
    assert Duty.objects.count() == 15
    assert [refresh(machine) for machine in machines] == [0] * 10


def test_a_larger_organisation_learns_from_the_machines_of_the_type(in_farm, version, monkeypatch):
    monkeypatch.setattr("servicing.duties.projection.WHOLE", 2)
    add_task(version)
    new = add_machine(in_farm, version)
    for _ in range(3):
        add_machine(in_farm, version, hours_a_day=5)
    other = build_version(in_farm)
    for _ in range(3):
        add_machine(in_farm, other, hours_a_day=1)
    refresh(new)
    before = Duty.objects.values("early", "likely", "late").get()
    Reading.objects.filter(machine__type=other.program.machine_type).delete()
    refresh(new)
    assert Duty.objects.values("early", "likely", "late").get() == before
    assert before["likely"] - TODAY < timedelta(days=40)  # 100 h at 5 h a day, drawn a little to the unknown


def test_a_date_comes_first_where_hours_are_slow(in_farm, version):
    add_task(version, every_hours=Decimal(5000), every_months=6)
    machine = add_machine(in_farm, version, hours_a_day=1)
    refresh(machine)
    duty = Duty.objects.get()
    assert duty.early == duty.likely == duty.late == duty.mark_on == date(2026, 7, 1)


def test_beyond_three_years_there_is_no_day(in_farm, version):
    add_task(version, every_hours=Decimal(90000))
    machine = add_machine(in_farm, version, hours_a_day=1)
    refresh(machine)
    duty = Duty.objects.get()
    assert (duty.early, duty.likely, duty.late) == (None, None, None)
    assert duty.projected_at == NOW


def test_a_duty_past_its_hours_shows_the_day_it_was_crossed(in_farm, version):
    add_task(version, every_hours=Decimal(100))
    machine = add_machine(in_farm, version, hours_a_day=1)  # readings every five days; 100 h on the hundredth
    refresh(machine)
    duty = Duty.objects.get()
    crossed = (NOW - timedelta(days=121 - 100)).date()
    assert duty.early == duty.likely == duty.late == crossed


def test_a_duty_past_its_date_shows_that_date(in_farm, version):
    add_task(version, every_hours=Decimal(5000), every_months=2)
    machine = add_machine(in_farm, version)
    refresh(machine)
    duty = Duty.objects.get()
    assert duty.early == duty.likely == duty.late == duty.mark_on == date(2026, 3, 1)
    assert duty in Duty.objects.overdue(TODAY)


def test_the_yards_day_decides(in_farm, version, time_machine):
    """Half past eleven at night in UTC is the next day in Madrid, where the machine stands."""
    add_task(version, every_hours=Decimal(5000), every_months=6)
    machine = add_machine(in_farm, version)
    set_hours(machine, 5000, at=datetime(2026, 6, 1, 22, 30, tzinfo=UTC))
    time_machine.move_to(datetime(2026, 6, 1, 22, 30, tzinfo=UTC))
    refresh(machine)
    assert Duty.objects.get().likely == date(2026, 6, 2)
