"""import_last_done takes a file, all of it or nothing, and says what it can't place."""

import pytest
from django.core.management import CommandError, call_command

from servicing.models import Duty, LastDone
from tests.servicing.duties.program_machines import NOW

pytestmark = pytest.mark.time_machine(NOW, tick=False)


@pytest.fixture
def run(farm, tmp_path, capsys):
    def command(text, *options):
        file = tmp_path / "last.csv"
        file.write_text(text)
        call_command("import_last_done", str(file), "--organisation", farm.organisation.slug, *options)
        return capsys.readouterr().out

    return command


def statements(farm):
    with farm.scope():
        return LastDone.objects.count()


def test_it_takes_a_list(farm, used, run):
    used()
    assert run("T-07;oil;3190\nT-07;brakes;Oct 2025\n") == "2 taken; 1 still open.\n"
    with farm.scope():
        assert Duty.objects.get(task__code="oil").last_hours == 3190


def test_the_rest_may_be_unknown(farm, used, run):
    used()
    assert run("T-07;oil;3190\n", "--rest-unknown") == "3 taken; 0 still open.\n"
    with farm.scope():
        assert Duty.objects.to_inspect().count() == 2


def test_a_dry_run_takes_nothing(farm, used, run):
    used()
    assert run("T-07;oil;3190\n", "--dry-run") == "1 would be taken.\n"
    assert statements(farm) == 0


def test_all_that_is_wrong_is_said_at_once_and_nothing_is_taken(farm, used, run):
    used()
    with pytest.raises(CommandError) as refused:
        run("T-07;oil;3190\nT-99;oil;3190\nT-07;grease;2019\n")
    assert "no machine of ours is named" in str(refused.value)
    assert "can be hours or a year" in str(refused.value)
    assert statements(farm) == 0


def test_what_the_readings_contradict_is_said(farm, used, run):
    used()
    with pytest.raises(CommandError, match="T-07, Task oil: T-07 has run"):
        run("T-07;oil;9000\n")


def test_days_in_two_ways_need_an_answer(farm, used, run):
    used()
    with pytest.raises(CommandError, match="can be two days"):
        run("T-07;brakes;3/5/2025\n")
    assert run("T-07;brakes;3/5/2025\n", "--date-order", "dmy").startswith("1 taken")


def test_no_such_organisation_or_file(farm, run, tmp_path):
    with pytest.raises(CommandError, match="there is no organisation 'nobody'"):
        call_command("import_last_done", "x.csv", "--organisation", "nobody")
    with pytest.raises(CommandError, match=r"none\.csv can't be read"):
        call_command("import_last_done", str(tmp_path / "none.csv"), "--organisation", farm.organisation.slug)
