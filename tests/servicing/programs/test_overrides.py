"""One machine departs from its program: another interval or none, with a reason, until it is taken back."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from fleet.core.errors import FleetError
from fleet.models import Machine
from servicing.duties.applicability import daily_round
from servicing.duties.completion import complete_duty
from servicing.duties.refresh import refresh_duties
from servicing.models import Duty, TaskOverride
from servicing.planning.intervals import Rule
from servicing.planning.override_rule import departed
from servicing.programs import overrides
from tests.factories import IntervalFactory, MachineFactory, ProgramVersionFactory, TaskFactory

NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
H = Decimal
pytestmark = pytest.mark.time_machine(NOW, tick=False)


@pytest.fixture
def oil(in_farm):
    version = ProgramVersionFactory(
        program__organisation=in_farm.organisation, made_at=datetime(2026, 1, 1, tzinfo=UTC)
    )
    task = TaskFactory(version=version, code="oil", title="Change the oil")
    IntervalFactory(task=task, first_hours=H(50), every_hours=H(200), every_months=12)
    return task


@pytest.fixture
def machine(in_farm, oil):
    return MachineFactory(organisation=in_farm.organisation, type=oil.version.program.machine_type, tag="T-1")


def mark_of(machine):
    refresh_duties(machine_ids=[machine.pk])
    duty = Duty.objects.live().filter(machine=machine).first()
    return duty and (duty.mark_hours, duty.mark_on)


@pytest.mark.parametrize(
    ("rule", "hours", "months", "result"),
    [
        (Rule(every_hours=H(200), anchor="done"), H(100), None, Rule(every_hours=H(100), anchor="done")),
        (
            Rule(first_hours=H(50), every_hours=H(200)),
            H(100),
            None,
            Rule(first_hours=H(50), every_hours=H(100)),
        ),
        (Rule(first_hours=H(50), every_hours=H(200)), H(40), None, Rule(every_hours=H(40))),
        (Rule(first_hours=H(50), every_hours=H(200)), None, 6, Rule(every_months=6)),
        (
            Rule(first_hours=H(50), every_months=12),
            None,
            6,
            Rule(first_hours=H(50), every_months=6),
        ),
        (Rule(first_hours=H(50), once=True), H(300), None, Rule(first_hours=H(50), every_hours=H(300))),
        (Rule(every_hours=H(200), early_window_hours=H(50)), H(40), None, Rule(every_hours=H(40))),
    ],
)
def test_what_stays_of_the_programs_rule(rule, hours, months, result):
    assert departed(rule, every_hours=hours, every_months=months) == result


def test_another_interval_moves_this_machines_mark_alone(in_farm, oil, machine):
    other = MachineFactory(organisation=in_farm.organisation, type=machine.type)
    assert mark_of(machine) == (50, date(2027, 1, 1))
    made = overrides.depart(
        machine=machine, task=oil, every_hours=H(40), reason="Racing oil.", member=in_farm.manager
    )
    assert (made.made_by, made.reason) == (in_farm.manager, "Racing oil.")
    assert list(Machine.objects.awaiting_projection()) == [machine]
    assert mark_of(machine) == (40, None)
    assert mark_of(other) == (50, date(2027, 1, 1))


def test_work_moves_the_mark_by_the_machines_own_interval(in_farm, oil, machine):
    overrides.depart(machine=machine, task=oil, every_hours=H(40), reason="Dust.", member=in_farm.manager)
    mark_of(machine)
    complete_duty(duty=Duty.objects.get(), hours=H(41), on=date(2026, 5, 30))
    assert Duty.objects.get().mark_hours == 80
    assert mark_of(machine) == (80, None)


def test_a_task_left_out_ends_its_duty_and_comes_back(in_farm, oil, machine):
    mark_of(machine)
    made = overrides.depart(
        machine=machine, task=oil, left_out=True, reason="Sealed for life.", member=in_farm.manager
    )
    assert mark_of(machine) is None
    overrides.take_back(override=made)
    assert list(Machine.objects.awaiting_projection()) == [machine]
    assert mark_of(machine) == (50, date(2027, 1, 1))


def test_a_second_departure_replaces_the_first(in_farm, oil, machine):
    overrides.depart(machine=machine, task=oil, left_out=True, reason="Sealed.", member=in_farm.manager)
    overrides.depart(machine=machine, task=oil, every_months=3, reason="Not sealed.", member=in_farm.owner)
    made = TaskOverride.objects.get()
    assert (made.left_out, made.every_months, made.made_by) == (False, 3, in_farm.owner)


def test_a_daily_task_left_out_leaves_the_daily_round(in_farm, oil, machine):
    look = TaskFactory(version=oil.version, code="look")
    IntervalFactory(task=look, every_hours=H(10))
    assert daily_round(machine) == [look]
    overrides.depart(machine=machine, task=look, left_out=True, reason="No glass.", member=in_farm.manager)
    assert daily_round(machine) == []


@pytest.mark.parametrize(
    ("entry", "field"),
    [
        ({"left_out": True, "reason": " "}, "reason"),
        ({"reason": "Why not."}, "every_hours"),
        ({"left_out": True, "every_hours": H(10), "reason": "Both."}, None),
    ],
)
def test_what_is_refused(in_farm, oil, machine, entry, field):
    with pytest.raises(FleetError) as refused:
        overrides.depart(machine=machine, task=oil, member=in_farm.manager, **entry)
    assert refused.value.field == field
    assert not TaskOverride.objects.exists()


def test_a_task_of_another_program_is_refused(in_farm, machine):
    foreign = TaskFactory(version__program__organisation=in_farm.organisation)
    with pytest.raises(FleetError) as refused:
        overrides.depart(machine=machine, task=foreign, left_out=True, reason="No.", member=in_farm.manager)
    assert refused.value.field == "task"
