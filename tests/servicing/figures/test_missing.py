"""Which figures are missing, and which aren't asked for."""

from datetime import date, timedelta
from decimal import Decimal as D

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from servicing.figures.missing import MissingFigures, how_many_missing, missing
from servicing.models import PartUsed
from tests.factories import (
    FitmentFactory,
    MachineFactory,
    PartFactory,
    ProgramFactory,
    ProgramVersionFactory,
    TechnicianFactory,
    WorkOrderFactory,
)
from tests.servicing.figures.conftest import due_task, entered_nothing

NOTHING = {"minutes": 0, "costs": 0, "rates": 0, "prices": 0}


def names(found: MissingFigures) -> dict[str, list[str]]:
    return {
        "minutes": [each.task.title for each in found.minutes],
        "costs": [each.part.number for each in found.costs],
        "rates": [each.member.role for each in found.rates],
        "prices": [each.tag for each in found.prices],
    }


@pytest.fixture
def found(farm, lacking):
    """Finds again what the manager is asked for, the counts checked against it."""

    def look(member=farm.manager):
        with farm.scope():
            seen, counted = names(missing(member)), how_many_missing(member)
        assert counted == {kind: len(listed) for kind, listed in seen.items()}
        return seen

    return look


def test_each_kind_is_found(found):
    assert found() == {
        "minutes": ["Change engine oil"],
        "costs": ["HX-1"],
        "rates": ["technician"],
        "prices": ["T-01"],
    }


def test_nothing_is_asked_where_all_is_entered(farm):
    with farm.scope():
        assert how_many_missing(farm.owner) == NOTHING
        assert len(missing(farm.owner)) == 0


@pytest.mark.parametrize("role", ["technician", "counter"])
def test_who_may_not_enter_is_not_asked(farm, found, role):
    assert found(getattr(farm, role)) == {kind: [] for kind in NOTHING}


def test_another_organisation_is_not_asked_about(stranger, found):
    entered_nothing(stranger)
    assert found()["prices"] == ["T-01"]
    assert found()["minutes"] == ["Change engine oil"]


def test_a_retired_machine_asks_for_nothing(lacking, found):
    lacking.machine.retired_on = date(2026, 4, 1)
    lacking.machine.save()
    assert found() == {"minutes": [], "costs": [], "rates": ["technician"], "prices": []}


def test_what_never_falls_due_is_not_asked_for(farm, lacking, found):
    """The daily round makes no tasks due; neither does what needs a fitment no machine has."""
    due_task(lacking.version, title="Daily check", every="10")
    cab = due_task(lacking.version, title="Cab filter")
    blower = due_task(lacking.version, title="Without blower")
    with farm.scope():
        fitment = FitmentFactory(organisation=farm.organisation)
        cab.needs.add(fitment)
        blower.without.add(fitment)
    assert found()["minutes"] == ["Change engine oil", "Without blower"]
    with farm.scope():
        lacking.machine.fitments.add(fitment)
    assert found()["minutes"] == ["Change engine oil", "Cab filter"]


def test_a_task_left_out_on_the_only_machine_is_not_asked_for(farm, lacking, found):
    with farm.scope():
        left_out = lacking.machine.overrides.create(
            organisation=farm.organisation,
            program=lacking.version.program,
            task_code="oil",
            left_out=True,
            reason="No engine.",
            made_by=farm.manager,
        )
        assert found()["minutes"] == []
        MachineFactory(organisation=farm.organisation, type=lacking.machine.type, price=1)
        assert missing(farm.manager).minutes[0].machines == 1
        left_out.delete()
        assert missing(farm.manager).minutes[0].machines == 2


def test_drafts_and_retired_versions_are_not_asked_for(farm, lacking, found):
    with farm.scope():
        lacking.draft_task.version.tasks.create(
            organisation=farm.organisation, code="new", title="New in the draft", minutes=0
        )
        assert found()["minutes"] == ["Change engine oil"]
        lacking.version.state = "retired"
        lacking.version.save()
    assert (found()["minutes"], found()["costs"]) == ([], [])


def test_a_part_counts_when_a_timed_task_needs_it_or_it_was_used_within_a_year(farm, lacking, found):
    with farm.scope():
        lacking.task.minutes = 20
        lacking.task.save()
        assert (found()["minutes"], found()["costs"]) == ([], ["HX-1"])
        belt = PartFactory(organisation=farm.organisation, number="HX-2", unit_cost=0)
        assert found()["costs"] == ["HX-1"]
        order = WorkOrderFactory(
            machine=lacking.machine,
            state="closed",
            closed_at=timezone.now() - timedelta(days=366),
            closed_by=farm.manager,
            hours_at_close=D(100),
        )
        own = {"organisation": farm.organisation, "order": order, "quantity": D(1), "unit_cost": D(0)}
        PartUsed.objects.create(part=belt, **own)
        assert found()["costs"] == ["HX-1"]
        order.closed_at = timezone.now() - timedelta(days=364)
        order.save()
        PartUsed.objects.create(part=belt, **own)
        assert found()["costs"] == ["HX-2", "HX-1"], "used twice, needed once"


def test_who_no_longer_works_needs_no_rate(farm, lacking, found):
    farm.technician.active = False
    farm.technician.save()
    assert found()["rates"] == []


def test_a_price_of_nothing_was_entered(lacking, found):
    """As the machine's own page takes it: it may have cost nothing."""
    lacking.machine.price = 0
    lacking.machine.save()
    assert found()["prices"] == []


def test_the_most_used_comes_first(farm, lacking):
    other = ProgramVersionFactory(program=ProgramFactory(organisation=farm.organisation, title="A plan"))
    for tag in ("T-02", "T-03"):
        farm.machine(tag=tag, type=other.program.machine_type)
    due_task(other, title="Grease")
    due_task(lacking.version, title="Belt", position=2)
    with farm.scope():
        found = missing(farm.manager)
    assert [(each.task.title, each.machines) for each in found.minutes] == [
        ("Grease", 2),
        ("Change engine oil", 1),
        ("Belt", 1),
    ]


def test_long_lists_share_the_room_that_short_ones_leave():
    found = MissingFigures(minutes=(1,) * 100, costs=(2,) * 50, rates=(3,), prices=())  # type: ignore[arg-type]
    first = found.first(40)
    assert [len(first.minutes), len(first.costs), len(first.rates), len(first.prices)] == [20, 19, 1, 0]
    assert len(found.first(1000)) == len(found) == 151
    assert len(found.first(3)) == 3


def test_the_number_of_queries_does_not_grow(farm, lacking):
    def asked(look):
        with farm.scope(), CaptureQueriesContext(connection) as captured:
            look(farm.manager)
        return len(captured)

    few = asked(missing), asked(how_many_missing)
    fitment = FitmentFactory(organisation=farm.organisation)
    for number in range(6):
        machine = farm.machine(tag=f"Q-{number}", type=lacking.machine.type)
        task = due_task(lacking.version)
        due_task(ProgramVersionFactory(program=ProgramFactory(organisation=farm.organisation)))
        TechnicianFactory(member__organisation=farm.organisation, hourly_rate=0)
        with farm.scope():
            machine.fitments.add(fitment)
            part = PartFactory(organisation=farm.organisation, unit_cost=0)
            task.supplies.create(organisation=farm.organisation, part=part, quantity=D(1))
    assert (asked(missing), asked(how_many_missing)) == few
    assert few[1] <= 11
