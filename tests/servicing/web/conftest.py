"""What tests of an order's pages share."""

import pytest

from servicing import workorders
from tests.factories import TechnicianFactory


@pytest.fixture
def technician(farm):
    return TechnicianFactory(member=farm.technician)


@pytest.fixture
def order(farm, machine, duty, technician):
    """An order for the fan belt, for the technician and today."""
    with farm.scope():
        return workorders.plan(
            member=farm.manager,
            machine=machine,
            duties=[duty],
            technician=technician,
            planned_for=machine.today(),
        )
