"""What tests of the fleet's API share."""

import pytest

from tests.factories import MachineFactory


@pytest.fixture
def machine(farm):
    return MachineFactory(organisation=farm.organisation, yard=farm.yard, tag="T-07")
