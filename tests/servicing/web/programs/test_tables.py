"""A maker's table becomes a draft: pasted, typed or sent as a file, looked at, kept."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from servicing.duties.refresh import refresh_duties
from servicing.models import Duty, ProgramVersion, Task
from tests.factories import MachineFactory
from tests.servicing.web.programs.table_page import about, inputs

HEAD = "Task\tfirst 50 h\tevery 100 h\t200 h\t400 h\t1 year\t2 years\tPage"
BODY = [
    f"Task {n}\t\t{'x' if n % 2 else ''}\t{'' if n % 2 else 'x'}\tx\t{'x (1)' if n == 7 else ''}\t\t{n}-1"
    for n in range(1, 31)
]
NOTE = "(1) Sooner where it is dusty."


def test_thirty_tasks_by_eight_columns_become_a_program_in_one_page(farm, kind):
    client, page = farm.client("manager"), reverse("program-new")
    machine = MachineFactory(organisation=farm.organisation, type=kind, tag="T-1")
    pasted = "\r\n".join([HEAD, *BODY, NOTE])

    shown = client.post(page, {**about(kind), "pasted": pasted, "do": "read"})

    assert shown.status_code == 200
    assert "What it says: 30 tasks" in shown.content.decode()
    with farm.scope():
        assert not ProgramVersion.objects.exists()

    kept = client.post(page, {**about(kind), **inputs(shown), "do": "save"})

    with farm.scope():
        version = ProgramVersion.objects.get()
        assert kept.url == reverse("program-draft", args=[version.pk])
        assert (version.state, version.tasks.count(), version.made_by) == ("draft", 30, farm.manager)
        seven = version.tasks.get(title="Task 7")
        assert (seven.manual_page, seven.note) == ("7-1", "Sooner where it is dusty.")
        rule = seven.intervals.get()
        assert (rule.first_hours, rule.every_hours, rule.every_months) == (None, 100, 12)
        assert not Duty.objects.exists()

    apply = reverse("program-apply", args=[version.pk])
    assert "30 due points on 1 machine would change" in client.get(apply).content.decode()
    assert client.post(apply, {"note": "As printed."}).status_code == 302
    with farm.scope():
        version.refresh_from_db()
        assert (version.state, version.note) == ("current", "As printed.")
        refresh_duties(machine_ids=[machine.pk])
        assert Duty.objects.live().count() == 30


def test_three_wrong_cells_are_each_named_and_nothing_typed_is_lost(farm, kind):
    client, page = farm.client("manager"), reverse("program-new")
    lines = [HEAD, *BODY, NOTE]
    cells = [line.split("\t") for line in lines]
    cells[4][3], cells[17][5], cells[29][1] = "R", "?", "x (3)"
    pasted = "\n".join("\t".join(row) for row in cells)

    shown = client.post(page, {**about(kind), "pasted": pasted, "do": "read"})

    words = shown.content.decode()
    assert shown.status_code == 422
    assert "3 cells can&#x27;t be read" in words or "3 cells can't be read" in words
    for place in ("Row 5 (Task 4), column 4 (200 h)", "Row 18 (Task 17), column 6 (1 year)"):
        assert place in words
    assert "Row 30 (Task 29), column 2 (first 50 h)" in words
    assert words.count('aria-invalid="true"') == 3
    back = inputs(shown)
    assert (back["cell-5-4"], back["cell-18-6"], back["cell-30-2"]) == ("R", "?", "x (3)")
    assert "Manual 12, second edition" in words

    again = client.post(page, {**about(kind), **back, "do": "save"})
    assert again.status_code == 422
    assert inputs(again) == back
    right = {**back, "cell-5-4": "x", "cell-18-6": "", "cell-30-2": "o"}
    assert client.post(page, {**about(kind), **right, "do": "save"}).status_code == 302
    with farm.scope():
        assert Task.objects.count() == 30
        assert Task.objects.get(title="Task 29").intervals.get().first_hours == 50


def test_typed_in_without_javascript_with_more_rows(farm, kind):
    client, page = farm.client("manager"), reverse("program-new")
    typed = inputs(client.get(page)) | {"cell-2-1": "Oil", "cell-2-3": "x"}
    longer = inputs(client.post(page, {**about(kind), **typed, "do": "rows"}))
    assert int(longer["rows"]) == int(typed["rows"]) + 5
    wider = inputs(client.post(page, {**about(kind), **longer, "do": "columns"}))
    assert int(wider["columns"]) == int(typed["columns"]) + 1
    assert (wider["cell-2-1"], wider["cell-2-3"], wider["cell-1-8"]) == ("Oil", "x", "Page")
    wider |= {"cell-1-7": "2 years", "cell-12-1": "Coolant", "cell-12-7": "x"}
    assert client.post(page, {**about(kind), **wider, "do": "save"}).status_code == 302
    with farm.scope():
        assert Task.objects.get(title="Coolant").intervals.get().every_months == 24
        assert list(Task.objects.values_list("title", flat=True)) == ["Oil", "Coolant"]


def test_what_the_program_is_for_must_be_said(farm, kind):
    client, page = farm.client("manager"), reverse("program-new")
    typed = inputs(client.get(page)) | {"cell-2-1": "Oil", "cell-2-3": "x"}
    shown = client.post(page, {**about(kind, title=""), **typed, "do": "save"})
    assert shown.status_code == 422
    assert shown.context["form"].errors.keys() == {"title"}
    assert inputs(shown)["cell-2-1"] == "Oil"


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_csv_file(farm, kind, separator):
    rows = [["Task", "every 100 h", "Page"], ["Oil, all of it" if separator != "," else "Oil", "x", "4-1"]]
    file = SimpleUploadedFile("table.csv", "\n".join(separator.join(row) for row in rows).encode("utf-8-sig"))
    shown = farm.client("manager").post(reverse("program-new"), {**about(kind), "file": file, "do": "read"})
    assert inputs(shown)["cell-2-1"] == rows[1][0]
    assert [each["task"].page for each in shown.context["read"]["tasks"]] == ["4-1"]


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (b"\xff\xfe\x00T", "not text in UTF-8"),
        (b"a" * 1_000_001, "larger than 1 MB"),
        (("Task,100 h\n" + "Oil,x\n" * 300).encode(), "at most 250 rows"),
    ],
)
def test_a_file_that_is_no_table_is_refused(farm, kind, written, said):
    shown = farm.client("manager").post(
        reverse("program-new"), {**about(kind), "file": SimpleUploadedFile("t.csv", written), "do": "read"}
    )
    assert shown.status_code == 422
    assert said in shown.content.decode()


def test_a_new_table_for_a_known_type_keeps_the_details_of_its_tasks(farm, kind, current):
    client, page = farm.client("manager"), reverse("program-new")
    pasted = "Task\tevery 250 h\tPage\noil\tx\t9-9\nBelt\tx\t"
    shown = client.post(page, {**about(kind), "pasted": pasted, "do": "read"})
    client.post(page, {**about(kind), **inputs(shown), "do": "save"})
    with farm.scope():
        oil, belt = ProgramVersion.objects.drafts().get().tasks.all()
        assert (oil.code, oil.steps, oil.manual_page) == ("oil", ["Drain.", "Fill."], "9-9")
        assert oil.intervals.get().every_hours == 250
        assert belt.code == "belt"
    second = client.post(page, {**about(kind), **inputs(shown), "do": "save"})
    assert "has a draft already" in second.content.decode()


def test_the_draft_s_table_changes_only_what_was_marked_anew(farm, draft):
    client, page = farm.client("manager"), reverse("program-table", args=[draft.pk])
    cells = inputs(client.get(page))
    assert [cells[f"cell-1-{at}"] for at in range(1, 7)] == [
        *("Task", "first 50 h", "every 100 h", "every 200 h", "Page", "Note")
    ]
    renamed = {**cells, "cell-2-1": "Engine oil", "cell-3-2": "x"}
    assert client.post(page, {**renamed, "anchor": "marks", "do": "save"}).status_code == 302
    with farm.scope():
        oil, filters = draft.tasks.all()
        assert (oil.code, oil.title, oil.steps) == ("oil", "Engine oil", ["Drain.", "Fill."])
        rule = oil.intervals.get()
        assert (rule.anchor, rule.early_window_hours) == ("done", 5)
        assert filters.intervals.get().first_hours == 50
