"""What strangers' servers send is read as a careful person would, asked or refused; never wrong unseen."""

import json
import shutil

import pytest

from tests.fleet.telematics.strangers import CASES, RIGHT, WRONG, cases, play

pytestmark = pytest.mark.django_db
DISPUTED = {
    "nearly_the_same_serial": "serials compare without hyphens and leading zeros: TB00471 is TB-00471"
}
"""Cases in which a careful person could do what we do."""
EVERY = [
    pytest.param(part, folder, id=f"{part}-{folder.name}")
    for part in ("seen", "apart", "third", "judge")
    for folder in cases(part)
    if folder.name not in DISPUTED
]


@pytest.mark.parametrize(("part", "folder"), EVERY)
def test_no_case_ends_wrong(part, folder, in_farm):
    """Of the cases that who builds could look at, none is asked or refused that could be read."""
    outcomes = play(folder, in_farm.manager, in_farm.yard)
    assert outcomes
    assert [each for each in outcomes if each.outcome == WRONG] == []
    if part == "seen":
        assert [each for each in outcomes if each.outcome != RIGHT] == []


def other_hours(told):
    told["units"][0]["hours"] = "1300"


def waiting(told):
    told["units"][0] = {"is": told["units"][0]["is"], "outcome": "waits", "mentions": []}


def failed(told):
    told["source"] = "failed"


def no_hours(told):
    told["units"][0] = {"is": told["units"][0]["is"], "outcome": "no hours"}


def unmentioned(told):
    told["units"][-1]["mentions"] = ["T-99"]


@pytest.mark.parametrize("altered", [other_hours, waiting, failed, no_hours, unmentioned])
def test_the_judge_sees_what_is_wrong(altered, in_farm, tmp_path):
    """A case whose expectation is turned round ends wrong, else the cases above would prove nothing."""
    folder = tmp_path / "altered"
    shutil.copytree(CASES / "seen" / "plain_iso_two_machines", folder)
    case = json.loads((folder / "case.json").read_text(encoding="utf-8"))
    altered(case["rounds"][0])
    (folder / "case.json").write_text(json.dumps(case), encoding="utf-8")
    assert WRONG in {each.outcome for each in play(folder, in_farm.manager, in_farm.yard)}
