"""What tests of closing and correcting orders share."""

from decimal import Decimal

import pytest

from tests.factories import CheckFactory, TechnicianFactory
from tests.servicing.workorders.work import duty_at_1000


@pytest.fixture
def technician(farm):
    return TechnicianFactory(member=farm.technician, hourly_rate=Decimal("45.50"))


@pytest.fixture
def belt(machine):
    """A duty with one measured check, 7 to 9 mm."""
    duty = duty_at_1000(machine, "Fan belt")
    CheckFactory(task=duty.task, label="Belt deflection", unit="mm", lower=Decimal(7), upper=Decimal(9))
    return duty


@pytest.fixture
def brake(machine):
    """A duty with one safety check, passed or failed."""
    duty = duty_at_1000(machine, "Parking brake")
    CheckFactory(
        task=duty.task, label="Brake holds", kind="function", safety=True, unit="", lower=None, upper=None
    )
    return duty
