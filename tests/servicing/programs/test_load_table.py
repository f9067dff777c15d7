"""A maker's table from the command line: a draft or in use, and each wrong cell by its place."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

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
