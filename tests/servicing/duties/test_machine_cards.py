"""What a sticker's page tells of its machine, and what a phone keeps of all of them."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet import readings
from fleet.readings import meter_changes
from servicing.duties.machine_cards import cards
from servicing.models import Duty
from tests.factories import DutyFactory, MachineTypeFactory

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
OPEN = {"early": None, "late": None}
pytestmark = pytest.mark.time_machine(NOW, tick=False)


def machine(house, tag, hours="1204.5", **facts):
    made = house.machine(tag=tag, **facts)
    if hours:
        taken = readings.Submitted(made.pk, NOW - timedelta(days=1), Decimal(hours))
        readings.take(
            organisation=house.organisation, rows=[taken], source="page", sender="page", member=house.manager
        )
        made.refresh_from_db()
    return made


def told(house):
    return {card.tag: card for card in cards(house.technician)}


def test_the_last_reading_is_told_on_the_yards_clock(in_farm):
    machine(in_farm, "T-07")
    machine(in_farm, "T-08", hours=None)
    found = told(in_farm)
    # Madrid is two hours ahead of UTC in May
    assert found["T-07"].last == "1\u202f204.5\u00a0h, Sun\u00a03\u00a0May, 12:00"
    assert (found["T-07"].meter, found["T-07"].read_at) == (Decimal("1204.5"), NOW - timedelta(days=1))
    assert (found["T-08"].last, found["T-08"].meter) == ("Not read yet.", None)


def test_after_a_new_meter_what_it_shows_is_told_beside_the_total(in_farm):
    tractor = machine(in_farm, "T-07")
    meter_changes.replace(
        machine=tractor,
        at=NOW - timedelta(hours=2),
        old_shows=Decimal(1205),
        new_shows=Decimal(3),
        member=in_farm.manager,
    )
    card = told(in_farm)["T-07"]
    assert "(1\u202f20" in card.last
    assert card.meter < 10


def test_what_is_due_next(in_farm):
    tractor = machine(in_farm, "T-07")
    assert told(in_farm)["T-07"].due == "Nothing: it has no service programme yet."
    oil = DutyFactory(
        machine=tractor, task__title="Engine oil", mark_hours=1250, likely=date(2026, 5, 30), **OPEN
    )
    DutyFactory(machine=tractor, task__title="Grease", mark_hours=1300, likely=date(2026, 6, 20), **OPEN)
    card = told(in_farm)["T-07"]
    assert (card.due, card.overdue) == ("Engine oil at 1\u202f250.0\u00a0h, likely 30\u00a0May", False)
    oil.mark_hours, oil.mark_on = None, date(2026, 6, 1)
    oil.save()
    assert told(in_farm)["T-07"].due == "Engine oil on 1\u00a0Jun, likely 30\u00a0May"
    oil.likely = oil.mark_on
    oil.save()
    Duty.objects.exclude(pk=oil.pk).delete()
    assert told(in_farm)["T-07"].due == "Engine oil on 1\u00a0Jun"


def test_what_is_past_comes_first(in_farm):
    tractor = machine(in_farm, "T-07")
    DutyFactory(machine=tractor, task__title="Engine oil", mark_hours=1200)
    DutyFactory(machine=tractor, task__title="Grease", mark_hours=1300, likely=date(2026, 5, 5), **OPEN)
    DutyFactory(machine=tractor, task__title="Old work", mark_hours=1100, active=False)
    assert (told(in_farm)["T-07"].due, told(in_farm)["T-07"].overdue) == ("Engine oil", True)
    DutyFactory(machine=tractor, task__title="Coolant", mark_on=date(2026, 5, 4), mark_hours=None)
    assert told(in_farm)["T-07"].due == "Engine oil and 1 more"


def test_only_ones_own_machines_that_run_and_have_a_meter(in_farm, stranger):
    machine(in_farm, "T-07")
    machine(in_farm, "T-08", retired_on=date(2026, 5, 1))
    kind = MachineTypeFactory(organisation=in_farm.organisation, category="attachment")
    in_farm.attachment(type=kind, tag="A-01")
    with stranger.scope():
        machine(stranger, "X-01")
    assert list(told(in_farm)) == ["T-07"]


def test_one_query_however_many(in_farm):
    for number in range(5):
        DutyFactory(machine=machine(in_farm, f"T-{number:02d}"))
    with CaptureQueriesContext(connection) as asked:
        assert len(cards(in_farm.technician)) == 5
    assert len(asked) == 1
