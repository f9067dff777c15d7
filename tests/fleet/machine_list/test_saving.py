"""A list is saved whole or not at all, and once, however often it is sent."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from fleet.core.errors import FleetError, NotAllowed
from fleet.machine_list import saving
from fleet.machine_list.answers import ADD, Answers, key
from fleet.machine_list.saving import NotRight
from fleet.machines import register
from fleet.models import Attachment, Machine, MachineType, Reading, Yard
from tests.fleet.machine_list.conftest import NOW

HEAD = "Tag\tMake\tModel\tCategory\tHours\tHours read on\tHours when bought\tIn service\tYard\tPrice\tNote"
FOURTEEN = "\n".join(
    [HEAD]
    + [
        f"T-{n:02d}\tArden\t{40 + n % 3}C\ttractor\t{1000 + n}\t2026-02-2{n % 8}\t\t2019-05-13\tQuarry\t\t"
        for n in range(1, 15)
    ]
)


@pytest.fixture
def add(farm, lists):
    def add(text, *, member=None, now=NOW, **said):
        answers = lists.settle(text, **said)
        return saving.add(table=lists.table(text), answers=answers, member=member or farm.manager, now=now)

    return add


def counts():
    return [model.objects.count() for model in (Machine, MachineType, Yard, Reading)]


def test_fourteen_machines_come_in_with_models_yard_and_hours(add):
    added = add(FOURTEEN, yards={key("Quarry"): ADD})
    assert (len(added.machines), len(added.models), [yard.name for yard in added.yards]) == (
        14,
        3,
        ["Quarry"],
    )
    machine = Machine.objects.get(tag="T-14")
    assert (machine.hours, machine.in_service_on, str(machine.type)) == (1014, date(2019, 5, 13), "Arden 42C")
    assert machine.hours_at == datetime(2026, 2, 26, 11, tzinfo=UTC), "noon in a Madrid winter"
    assert set(Reading.objects.values_list("state", flat=True)) == {"counted"}
    assert Reading.objects.count() == 14


def test_a_list_sent_again_adds_nothing(add, lists):
    add(FOURTEEN, yards={key("Quarry"): ADD})
    before = counts()
    with pytest.raises(NotRight) as refused:
        add(FOURTEEN)
    assert len(refused.value.judged.here) == 14
    with pytest.raises(NotRight):
        add(FOURTEEN, leave_known=True)
    assert counts() == before


def test_nothing_is_saved_when_the_last_machine_fails(add, monkeypatch):
    before = counts()
    whole = register.register

    def fails(*, facts, **more):
        if facts.tag == "T-14":
            raise FleetError("Read the plate again.", field="serial")
        return whole(facts=facts, **more)

    monkeypatch.setattr(register, "register", fails)
    with pytest.raises(NotRight) as refused:
        add(FOURTEEN, yards={key("Quarry"): ADD})
    assert refused.value.judged.problems == {14: {"serial": "Read the plate again."}}
    assert counts() == before


def test_nothing_is_saved_when_hours_do_not_count(add, monkeypatch):
    before = counts()
    take = saving.readings.take

    def held(**batch):
        return [receipt._replace(state="held", reason="It can't be.") for receipt in take(**batch)]

    monkeypatch.setattr(saving.readings, "take", held)
    with pytest.raises(NotRight) as refused:
        add(FOURTEEN, yards={key("Quarry"): ADD})
    assert refused.value.judged.problems[14] == {"hours": "It can't be."}
    assert counts() == before


def test_nothing_is_saved_of_a_list_with_an_open_question(add):
    before = counts()
    with pytest.raises(NotRight):
        add(FOURTEEN)
    assert counts() == before


def test_hours_when_it_came_are_the_first_reading(add):
    add(f"{HEAD}\nT-01\tArden\t40C\ttractor\t1204,5\t\t100\t13.05.2019\t\t18.500,00 €\tcab")
    machine = Machine.objects.get(tag="T-01")
    assert (machine.hours, machine.hours_at, machine.price, machine.note) == (
        Decimal("1204.5"),
        NOW,
        Decimal(18500),
        "cab",
    )
    first, now = Reading.objects.order_by("taken_at")
    assert (first.shows, first.taken_at) == (100, datetime(2019, 5, 12, 22, tzinfo=UTC))
    assert (now.shows, now.taken_at) == (Decimal("1204.5"), NOW)


def test_a_machine_of_unknown_age_counts_from_today_with_its_hours(add):
    add(f"{HEAD}\nT-01\tArden\t40C\ttractor\t1204\t2026-02-01\t\t\t\t\t", since_unknown=True)
    machine = Machine.objects.get(tag="T-01")
    assert (machine.in_service_on, machine.hours) == (date(2026, 3, 2), 1204)
    assert machine.hours_at == datetime(2026, 2, 1, 11, tzinfo=UTC)


def test_a_machine_that_came_today_brings_its_hours(add):
    add(f"{HEAD}\nT-01\tArden\t40C\ttractor\t1204\t\t1204\t2026-03-02\t\t\t")
    assert Machine.objects.get(tag="T-01").hours == 1204


def test_without_hours_there_is_no_reading(add):
    add(f"{HEAD}\nT-01\tArden\t40C\ttractor\t\t\t\t2019-05-13\t\t\t")
    assert Reading.objects.count() == 0
    assert Machine.objects.get(tag="T-01").segments.count() == 1


def test_an_attachment_keeps_its_hours_and_all_that_was_said_of_it(add):
    add(f"{HEAD}\nA-01\tOrrin\tRC 180\tattachment\t340\t\t\t2019-05-13\t\t2000\tnew blades")
    made = Attachment.objects.get()
    assert (made.hours, made.hours_before, made.price, made.note) == (340, 340, 2000, "new blades")
    assert Reading.objects.count() == 0


def test_a_role_that_may_not_add_machines_adds_none(farm, add, lists):
    before = counts()
    for member in (farm.technician, farm.counter):
        with pytest.raises(NotAllowed):
            add(FOURTEEN, member=member, yards={key("Quarry"): ADD})
    assert counts() == before


def test_what_was_added_meanwhile_is_found_when_it_is_saved(farm, add, lists):
    answers = lists.settle(FOURTEEN, yards={key("Quarry"): ADD})
    table = lists.table(FOURTEEN)
    farm.machine(tag="t 07")
    with pytest.raises(NotRight) as refused:
        saving.add(table=table, answers=answers, member=farm.manager)
    assert refused.value.judged.problems == {7: {"tag": "t 07 is here already."}}
    assert isinstance(answers, Answers)
