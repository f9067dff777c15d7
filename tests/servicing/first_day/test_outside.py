"""The first steps over the API and on the command line."""

import pytest
from django.core.management import CommandError, call_command

from fleet.accounts import setup
from tests.factories import MachineTypeFactory, ProgramVersionFactory

SETUP = "/api/v1/setup"


def told(house, role="owner"):
    answer = house.api(role).get(SETUP)
    assert answer.status_code == 200
    return answer.json()


def a_start(house):
    """Two models without a program in force, one of them with a draft; hours are not needed."""
    kinds = [
        MachineTypeFactory(organisation=house.organisation, maker="Orrin", model=name)
        for name in ("K 1", "K 2")
    ]
    house.machine(tag="T-1", type=kinds[0])
    house.machine(tag="T-2", type=kinds[1])
    ProgramVersionFactory(
        program__organisation=house.organisation, program__machine_type=kinds[0], state="draft"
    )
    with house.scope():
        setup.wave_off(step="hours", member=house.owner)


def test_each_step_is_told_with_what_is_missing(house):
    a_start(house)
    said = told(house)
    assert said["set_up_at"] is None
    steps = {step["step"]: step for step in said["steps"]}
    assert list(steps) == ["yards", "machines", "programs", "last-done", "hours", "people", "figures"]
    assert {code: step["state"] for code, step in steps.items()} == {
        "yards": "done",
        "machines": "done",
        "programs": "missing",
        "last-done": "missing",
        "hours": "not needed",
        "people": "done",
        "figures": "missing",
    }
    assert steps["programs"]["detail"] == "2 of 2 models have no service programme."
    assert steps["programs"]["missing"] == [
        {"name": "Orrin K 1", "note": "draft waits to be applied"},
        {"name": "Orrin K 2", "note": "1 machine"},
    ]
    assert [each["name"] for each in steps["hours"]["missing"]] == ["T-1", "T-2"]


def test_a_manager_is_told_the_steps_that_are_theirs(house):
    assert "people" not in [step["step"] for step in told(house, "manager")["steps"]]


@pytest.mark.parametrize("role", ["technician", "counter"])
def test_others_are_refused(house, role):
    assert house.api(role).get(SETUP).status_code == 403


def test_a_device_is_refused_and_a_filter_there_isnt(house):
    assert house.device().get(SETUP).status_code == 403
    assert house.api("owner").get(f"{SETUP}?state=done").status_code == 400


def test_a_closed_list_has_no_steps(house):
    with house.scope():
        setup.close(member=house.owner)
    said = told(house)
    assert said["set_up_at"] is not None
    assert said["steps"] == []


def test_the_operator_reads_it_a_line_a_step(house, capsys):
    a_start(house)
    call_command("setup_state", "brook-hire")
    lines = capsys.readouterr().out.splitlines()
    assert [line.split(".")[0] for line in lines] == [
        "yards: done",
        "machines: done",
        "programs: missing",
        "last-done: missing",
        "hours: not needed",
        "people: done",
        "figures: missing",
    ]
    assert lines[2] == (
        "programs: missing. 2 of 2 models have no service programme. "
        "Orrin K 1 (draft waits to be applied); Orrin K 2 (1 machine)."
    )


def test_the_operator_reads_that_a_list_is_closed(farm, capsys):
    call_command("setup_state", "alder-farm")
    assert capsys.readouterr().out == "Alder Farm closed its list of first steps 2026-01-01.\n"


def test_there_must_be_such_an_organisation(db):
    with pytest.raises(CommandError, match="no organisation 'elm'"):
        call_command("setup_state", "elm")
