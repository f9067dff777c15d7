"""A maker's table from the command line: a draft or in use, and each wrong cell by its place."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fleet.usage.figures import TIGHT
from servicing.models import ProgramVersion
from tests.factories import MachineTypeFactory

TABLE = """\
Task;first 50 h;every 100 h;200 h;1 year;Page
Engine oil and filter;x;;x;x;4-11
Air filter;;x;;;4-20
Wheel bolts;o;;;;5-2
"""


@pytest.fixture
def load(farm, tmp_path):
    with farm.scope():
        MachineTypeFactory(organisation=farm.organisation, maker="Haldane", model="HX 25")
    file = tmp_path / "table.csv"

    def load(written, *more, **changed):
        file.write_bytes(written if isinstance(written, bytes) else written.encode())
        out, err = StringIO(), StringIO()
        named = {"organisation": "alder-farm", "maker": "haldane", "model": "hx 25", "title": "Tractor"}
        asked = {**named, "source": "Manual OM-25", **changed}
        try:
            call_command("load_table", str(file), *more, stdout=out, stderr=err, **asked)
        except CommandError as error:
            return str(error), err.getvalue()
        return out.getvalue(), err.getvalue()

    return load


def marks(version):
    return {
        task.title: [(each.first_hours, each.every_hours, each.every_months) for each in task.intervals.all()]
        for task in version.tasks.all()
    }


def test_a_table_becomes_a_draft(farm, load):
    said, _ = load("\ufeff" + TABLE)
    assert said.startswith("Alder Farm: Tractor, version 1, 3 tasks, a draft")
    with farm.scope():
        version = ProgramVersion.objects.get()
        assert version.state == "draft"
        assert marks(version) == {
            "Engine oil and filter": [(50, 200, 12)],
            "Air filter": [(None, 100, None)],
            "Wheel bolts": [(50, None, None)],
        }


def test_a_table_is_applied_when_asked(farm, load):
    said, _ = load(TABLE, "--apply")
    assert "3 tasks, in use" in said
    with farm.scope():
        assert ProgramVersion.objects.current().count() == 1


def test_a_second_draft_is_refused_in_one_line(farm, load):
    load(TABLE)
    said, _ = load(TABLE)
    assert "draft" in said
    assert "\n" not in said


def test_wrong_cells_are_each_named_and_nothing_is_loaded(farm, load):
    wrong = TABLE.replace("Air filter;;x", "Air filter;;soon").replace("bolts;o", "bolts;?")
    said, cells = load(wrong.replace("every 100 h", "now and then"))
    assert "nothing was loaded" in said
    assert "Row 1, column 3" in cells
    assert "Row 4 (Wheel bolts), column 2" in cells
    with farm.scope():
        assert not ProgramVersion.objects.exists()


@pytest.mark.parametrize(
    ("written", "changed", "sentence"),
    [
        (TABLE, {"organisation": "nobody"}, "there is no organisation 'nobody'"),
        (TABLE, {"model": "HX 90"}, "has no machines of haldane HX 90"),
        (b"T\xe9che;100\n", {}, "not text in UTF-8"),
        ("Task\0;100\nOil;x\n", {}, "not text in UTF-8"),
        (b"T\xe9che;100\n" * 200_000, {}, "is larger than 1024 KB"),
        ("Task;100\n" + "x" * 200_000 + ";x\n", {}, "Row 2"),
        ('Task;100\n"Oil;x\n' + "Air;x\n" * 60_000, {}, "Row 2 can't be read: field larger than field limit"),
        ("", {}, "1 to put right"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(load, written, changed, sentence):
    said, _ = load(written, **changed)
    assert sentence in said
    assert "\n" not in said


UNCERTAIN = """\
Task;Interval
Check brake hoses;200-250 h
Check fuel hoses;200-250 h
Drain the tank;before storage
"""


def test_what_would_have_to_be_guessed_is_refused_with_the_option_that_answers_it(farm, load):
    said, asked = load(UNCERTAIN)
    assert said.endswith("nothing was loaded; 2 to answer")
    assert "Row 2 (Check brake hoses), column 2 (Interval): It names a range. Which end counts?" in asked
    assert "as typed: Check brake hoses | 200-250 h" in asked
    assert f"--answer 2.2=2: Check brake hoses: every 250{TIGHT}h" in asked
    assert "--answer 2.2=leave: leave out this row" in asked
    assert "--answer-same 2.2=...: the same for all 2 that read the same" in asked
    with farm.scope():
        assert not ProgramVersion.objects.exists()


def test_options_answer_one_question_or_all_that_read_the_same(farm, load):
    said, _ = load(UNCERTAIN, "--answer-same", "2.2=2", "--answer", "3.2=leave")
    assert "2 tasks, a draft" in said
    with farm.scope():
        version = ProgramVersion.objects.get()
        assert marks(version) == {"Check brake hoses": [(None, 250, None)], "Drain the tank": []}
        assert version.tasks.get(title="Drain the tank").occasion == "before storage"


@pytest.mark.parametrize(
    ("option", "sentence"),
    [
        ("9.9=1", "--answer 9.9=1: there is no question at 9.9"),
        ("2.2", "--answer 2.2: the choices are 1, 2, 3, leave"),
        ("2.2=7", "--answer 2.2=7: the choices are 1, 2, 3, leave"),
    ],
)
def test_an_option_that_answers_nothing_is_refused(load, option, sentence):
    said, _ = load(UNCERTAIN, "--answer", option)
    assert said == sentence


def test_a_question_and_a_wrong_cell_are_both_said(load):
    said, told = load("Task;Interval;every 500 h\nHoses;200-250 h;\nBelt;;soon\n")
    assert said.endswith("nothing was loaded; 1 to put right, 1 to answer")
    assert "Row 2 (Hoses), column 2" in told
    assert "Row 3 (Belt), column 3" in told


def test_a_title_above_the_headings_and_text_in_columns_of_blanks(load):
    said, _ = load("Maintenance;;\n" + TABLE)
    assert "Read as titles, because nothing is marked: Maintenance (row 1)" in said
    said, _ = load(
        "Work                Every 50 h   Every 100 h\n"
        "Oil, and filter          x\n"
        "Belt, and pulley                      x\n",
        model="hx 25",
        title="Other",
    )
    assert "draft already" in said
