"""A new organisation, with a person in every role and one bare yard."""

import pytest

from tests.cast import House, build_house


@pytest.fixture
def house(db) -> House:
    """An organisation that is led through its first day."""
    return build_house(name="Brook Hire", slug="brook-hire", set_up_at=None)
