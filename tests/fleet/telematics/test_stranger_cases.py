"""What strangers' servers send is read as a careful person would, asked or refused; never wrong unseen."""

import pytest

from tests.fleet.telematics.strangers import WRONG, cases, play

PARTS = ("seen", "apart")
pytestmark = pytest.mark.django_db
EVERY = [
    pytest.param(folder, id=f"{part}-{folder.name}") for part in ("seen", "apart") for folder in cases(part)
]


@pytest.mark.parametrize("folder", EVERY)
def test_no_case_ends_wrong(folder, in_farm):
    outcomes = play(folder, in_farm.manager, in_farm.yard)
    assert outcomes
    assert [each for each in outcomes if each.outcome == WRONG] == []
