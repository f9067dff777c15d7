"""One place refuses: a role without the right, rows of others, and members who were switched off."""

import pytest

from fleet.core.errors import NotAllowed
from fleet.core.permission import require, require_own


@pytest.fixture
def theirs(stranger):
    return stranger.machine()


def test_the_right_and_own_rows_are_asked_for(farm, machine, theirs):
    require(farm.owner, "manage_fleet", "change meters", machine)
    with pytest.raises(NotAllowed, match=r"^Your role can't change meters\.$"):
        require(farm.technician, "manage_fleet", "change meters", machine)
    with pytest.raises(NotAllowed, match=r"^This belongs to another organisation\.$"):
        require(farm.owner, "manage_fleet", "change meters", machine, theirs)
    with pytest.raises(NotAllowed, match=r"^Your role can't change meters\.$"):  # nothing of whose it is
        require(farm.technician, "manage_fleet", "change meters", theirs)


def test_a_member_switched_off_has_neither_rights_nor_rows(farm, machine):
    require_own(farm.technician, machine)
    farm.technician.active = farm.owner.active = False
    with pytest.raises(NotAllowed, match="switched off"):
        require_own(farm.technician, machine)
    with pytest.raises(NotAllowed):
        require(farm.owner, "manage_fleet", "change meters", machine)


def test_a_right_that_does_not_exist_is_a_mistake_in_the_code(farm):
    with pytest.raises(AttributeError):
        require(farm.owner, "manage_everything", "do all")
