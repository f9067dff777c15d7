"""What strangers' servers send is read as a careful person would, asked or refused; never wrong unseen."""

import pytest

from tests.fleet.telematics.strangers import RIGHT, WRONG, cases, play

pytestmark = pytest.mark.django_db
EVERY = [
    pytest.param(part, folder, id=f"{part}-{folder.name}")
    for part in ("seen", "apart")
    for folder in cases(part)
]


@pytest.mark.parametrize(("part", "folder"), EVERY)
def test_no_case_ends_wrong(part, folder, in_farm):
    """Of the cases that who builds could look at, none is asked or refused that could be read."""
    outcomes = play(folder, in_farm.manager, in_farm.yard)
    assert outcomes
    assert [each for each in outcomes if each.outcome == WRONG] == []
    if part == "seen":
        assert [each for each in outcomes if each.outcome != RIGHT] == []
