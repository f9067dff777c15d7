"""What tests of the fleet share, below the views and over HTTP."""

from datetime import UTC, datetime, timedelta

import pytest

from fleet import readings
from fleet.readings import Submitted

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


@pytest.fixture
def machine(farm):
    """T-07, for hire, in service since 1 January 2026, never read."""
    return farm.machine(tag="T-07", serial="HX2-991", for_hire=True)


@pytest.fixture
def pair(farm, machine):
    """The machine and another one, T-08, and a reading of each written down for the other."""
    other = farm.machine(tag="T-08")
    rows = [
        Submitted(machine.pk, NOON, 1200),
        Submitted(other.pk, NOON, 3000),
        Submitted(machine.pk, NOON + timedelta(days=2), 3009),
        Submitted(other.pk, NOON + timedelta(days=2.1), 1206),
    ]
    receipts = readings.take(organisation=farm.organisation, rows=rows, source="api", sender="box")
    assert [receipt.state for receipt in receipts] == ["counted", "counted", "held", "held"]
    return [receipt.reading for receipt in receipts[2:]]
