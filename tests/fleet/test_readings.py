"""The one door for hour readings: what is counted, held, refused or a duplicate, and what people decide."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from fleet import readings
from fleet.errors import FleetError, NotAllowed, WrongState
from fleet.models import Machine, MeterSegment, Reading
from fleet.readings import Submitted
from tests.factories import MachineFactory

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)


def take(house, *rows, **kwargs):
    given = {"source": "api", "sender": "box", "now": NOW} | kwargs
    return readings.take(organisation=house.organisation, rows=rows, **given)


def sent(machine, shows, *, days=0.0, **kwargs):
    return Submitted(machine=machine.pk, taken_at=NOON + timedelta(days=days), shows=shows, **kwargs)


@pytest.fixture
def machine(in_farm):
    return MachineFactory(organisation=in_farm.organisation, yard=in_farm.yard, tag="T-07", serial="HX2-991")


def test_a_plausible_reading_counts_and_moves_the_machine(in_farm, machine):
    (receipt,) = take(in_farm, sent(machine, "1204.5"))
    assert (receipt.state, receipt.code, receipt.reason) == ("counted", "ok", "")
    machine.refresh_from_db()
    assert (machine.hours, machine.hours_at) == (Decimal("1204.50"), NOON)
    assert machine.projection_wanted_at == NOW
    assert receipt.machine.hours == Decimal("1204.50")


def test_a_machine_is_known_by_id_tag_or_serial(in_farm, machine):
    names = [machine.pk, "T-07", "t-07", "HX2-991"]
    rows = [Submitted(name, NOON + timedelta(days=n), 100 + n) for n, name in enumerate(names)]
    assert [receipt.machine for receipt in take(in_farm, *rows)] == [machine] * 4
