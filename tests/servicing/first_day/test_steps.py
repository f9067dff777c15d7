"""Each first step is judged by what the organisation has, and by nothing else."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.accounts import invitations
from fleet.models import Newcomer, Yard
from servicing.first_day import steps
from servicing.first_day.checklist import all_steps
from servicing.last_done.asked import open_cells
from servicing.last_done.say import Statement, say
from servicing.last_done.typed import Said
from tests.factories import (
    IntervalFactory,
    MachineFactory,
    MachineTypeFactory,
    ProgramVersionFactory,
    ReadingFactory,
    TechnicianFactory,
    YardFactory,
)

MORNING = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
DAY = timedelta(days=1)


def judged(house, step):
    with house.scope():
        return step(house.organisation)


def read(machine, *moments, **facts):
    for number, taken_at in enumerate(moments):
        ReadingFactory(machine=machine, taken_at=taken_at, shows=Decimal(100 + number), **facts)


# ---- yards


def only_yard(house, **facts):
    with house.scope():
        Yard.objects.update(**facts)


@pytest.mark.parametrize(
    ("facts", "done"),
    [
        ({"name": "Yard", "zone": ""}, False),
        ({"name": "Yard", "zone": "Europe/Dublin"}, True),
        ({"name": "Home yard", "zone": ""}, True),
    ],
)
def test_the_yard_that_every_organisation_begins_with_is_none_yet(house, facts, done):
    only_yard(house, **facts)
    step = judged(house, steps.yards)
    assert step.done is done
    assert facts["name"] in step.said


def test_several_yards_will_do_whatever_they_are_called(house, stranger):
    only_yard(house, name="Yard")
    assert not judged(house, steps.yards).done  # the stranger's yard is not ours
    YardFactory(organisation=house.organisation, name="Mill")
    assert judged(house, steps.yards).said == "2 yards: Mill, Yard."


def test_without_any_yard_it_says_so(house):
    with house.scope():
        Yard.objects.all().delete()
    step = judged(house, steps.yards)
    assert (step.done, step.said) == (False, "There is no yard yet.")


# ---- machines


def test_a_retired_machine_is_no_machine(house, stranger):
    house.machine(retired_on=date(2026, 1, 1))
    stranger.machine()
    assert not judged(house, steps.machines).done
    house.machine()
    step = judged(house, steps.machines)
    assert (step.done, step.said) == (True, "1 machine in service.")


# ---- programmes


def model(house, name, machines=1, **facts):
    made = MachineTypeFactory(organisation=house.organisation, maker="Haldane", model=name)
    for _ in range(machines):
        house.machine(type=made, **facts)
    return made


def version(kind, state):
    return ProgramVersionFactory(
        program__organisation=kind.organisation, program__machine_type=kind, state=state
    )


def test_a_model_without_machines_in_service_needs_no_program(house):
    model(house, "HX 1", machines=0)
    model(house, "HX 2", retired_on=date(2026, 1, 1))
    step = judged(house, steps.programs)
    assert (step.done, step.said, step.lacks) == (False, "No model has a machine yet.", ())


def test_models_without_a_program_are_named_the_most_machines_first(house):
    few, many = model(house, "HX 1", machines=1), model(house, "HX 2", machines=3)
    version(model(house, "HX 3"), "current")
    step = judged(house, steps.programs)
    assert step.said == "2 of 3 models have no service programme."
    assert [(lack.name, lack.note) for lack in step.lacks] == [
        ("Haldane HX 2", "3 machines"),
        ("Haldane HX 1", "1 machine"),
    ]
    assert [lack.place.address for lack in step.lacks] == [
        f"{reverse('program-new')}?machine_type={kind.pk}" for kind in (many, few)
    ]
    version(few, "current")
    version(many, "current")
    assert judged(house, steps.programs).done


def test_a_draft_is_no_program_and_a_retired_version_neither(house):
    drafted, ended = model(house, "HX 1"), model(house, "HX 2")
    draft = version(drafted, "draft")
    version(ended, "retired")
    lacks = judged(house, steps.programs).lacks
    assert [(lack.name, lack.note) for lack in lacks] == [
        ("Haldane HX 1", "draft waits to be applied"),
        ("Haldane HX 2", "1 machine"),
    ]
    assert lacks[0].place.address == reverse("program-draft", args=[draft.pk])


def test_a_draft_beside_a_program_in_force_is_nothing_missing(house):
    kind = model(house, "HX 1")
    current = version(kind, "current")
    ProgramVersionFactory(program=current.program, number=2, state="draft")
    assert judged(house, steps.programs).done


def test_of_many_models_three_are_shown_at_once(house):
    for number in range(5):
        model(house, f"HX {number}")
    step = judged(house, steps.programs)
    assert [lack.name for lack in step.first_lacks] == ["Haldane HX 0", "Haldane HX 1", "Haldane HX 2"]
    assert [lack.name for lack in step.more_lacks] == ["Haldane HX 3", "Haldane HX 4"]


# ---- hours


def test_readings_of_two_days_show_a_pace(house):
    house.machine(tag="T-1")
    read(house.machine(tag="T-2"), MORNING)
    read(house.machine(tag="T-3"), MORNING, MORNING + timedelta(hours=5))  # of one day
    read(house.machine(tag="T-4"), MORNING, MORNING + DAY)
    step = judged(house, steps.hours)
    assert step.said == "3 of 4 machines have been read only once or never: T-1, T-2, T-3."
    assert [lack.name for lack in step.lacks] == ["T-1", "T-2", "T-3"]


def test_a_day_is_the_yards(house):
    """Half past ten at night and half past one in Madrid are two days, in UTC and in Lisbon one."""
    late, later = datetime(2026, 3, 2, 21, 30, tzinfo=UTC), datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
    lisbon = YardFactory(organisation=house.organisation, zone="Europe/Lisbon")
    read(house.machine(tag="T-1"), late, later)
    read(house.machine(tag="T-2", yard=lisbon), late, later)
    assert [lack.name for lack in judged(house, steps.hours).lacks] == ["T-2"]


@pytest.mark.parametrize("state", ["held", "discarded"])
def test_only_counted_readings_show_a_pace(house, state):
    machine = house.machine()
    read(machine, MORNING)
    read(machine, MORNING + DAY, state=state, reason="It looks wrong.")
    assert not judged(house, steps.hours).done


def test_attachments_and_retired_machines_need_no_readings(house):
    read(house.machine(), MORNING, MORNING + DAY)
    house.attachment()
    house.machine(retired_on=date(2026, 3, 1))
    step = judged(house, steps.hours)
    assert (step.done, step.said) == (True, "1 machine has been read on more than one day.")


def test_hours_without_a_machine_are_not_done(house):
    assert not judged(house, steps.hours).done


# ---- sign-ins


def alone(house):
    with house.scope():
        for member in (house.manager, house.technician, house.counter):
            member.active = False
            member.save()


def test_the_owner_alone_is_not_enough_nor_are_people_switched_off(house, stranger):
    alone(house)
    TechnicianFactory(member=house.technician)
    step = judged(house, steps.people)
    assert not step.done
    assert step.said.startswith("1 person can sign in. Nobody can be given a job yet")


def test_somebody_whose_account_the_operator_switched_off_does_not_count(house):
    alone(house)
    with house.scope():
        house.technician.active = True
        house.technician.save()
    house.technician.user.is_active = False
    house.technician.user.save()
    assert not judged(house, steps.people).done


def test_somebody_awaited_is_enough_until_withdrawn(house):
    alone(house)
    with house.scope():
        invitations.ask(name="Ada Pell", email="ada@brook.example", role="technician", member=house.owner)
        assert steps.people(house.organisation).done
        assert "1 is invited" in steps.people(house.organisation).said
        Newcomer.objects.update(withdrawn_at=MORNING)
        assert not steps.people(house.organisation).done


def test_a_technician_can_be_given_jobs(house):
    TechnicianFactory(member=house.technician)
    assert judged(house, steps.people).said == "4 people can sign in. 1 technician can be given jobs."


# ---- all of them


def asked(house):
    with house.scope(), CaptureQueriesContext(connection) as queries:
        all_steps(house.organisation)
    return len(queries)


def test_it_asks_no_more_of_many_machines_than_of_one(house):
    model(house, "HX 0")
    few = asked(house)
    for number in range(1, 12):
        model(house, f"HX {number}")
        read(house.machine(), MORNING)
    assert asked(house) == few > 0


def test_once_set_up_nothing_is_asked(farm):
    MachineFactory(organisation=farm.organisation)
    assert asked(farm) == 0
    with farm.scope():
        assert all_steps(farm.organisation) == ()


# ------------------------------------------------------------------ last done


def test_last_done_is_asked_of_machines_that_had_run_before(house):
    with house.scope():
        assert not steps.last_done(house.organisation).done
        assert steps.last_done(house.organisation).places == ()
        version = ProgramVersionFactory(program__organisation=house.organisation)
        IntervalFactory(task__version=version, task__title="Engine oil")
        machine = house.machine(tag="T-07", type=version.program.machine_type)
        assert steps.last_done(house.organisation).done  # it came with no hours
        ReadingFactory(machine=machine, shows=Decimal(3240))
        asked = steps.last_done(house.organisation)
        assert (asked.done, asked.said) == (False, "Not said for 1 task, on T-07.")
        (cell,) = open_cells()
        say(statements=[Statement(cell, Said(unknown=True))], member=house.manager)
        done = steps.last_done(house.organisation)
        assert done.done
        assert done.said == "Said for every task; 1 is not known and will be inspected."
