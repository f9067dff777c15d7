"""A program of the farm."""

import pytest

from tests.servicing.duties.program_machines import build_version


@pytest.fixture
def version(farm):
    """The version in force, without tasks yet."""
    return build_version(farm)
