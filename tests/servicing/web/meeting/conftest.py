"""The two who write into one order."""

import pytest

from fleet.models import Member
from tests.factories import MemberFactory


@pytest.fixture
def bea(farm):
    """The other person, with a name to be read on pages."""
    bea = MemberFactory(organisation=farm.organisation, role=Member.Role.MANAGER)
    bea.user.first_name, bea.user.last_name = "Bea", "Lund"
    bea.user.save()
    return bea


@pytest.fixture
def names(farm, started):
    """The names of the fields that can be met, by what they are called here."""
    with farm.scope():
        line = started.lines.get()
        check = line.task.checks.get().pk
    at = f"lines-{line.pk}"
    return {
        "outcome": f"{at}-outcome",
        "reason": f"{at}-reason",
        "until": f"{at}-deferred_until",
        "note": f"{at}-note",
        "found": f"{at}-checks-{check}-found",
        "left": f"{at}-checks-{check}-left",
    }
