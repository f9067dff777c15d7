"""A maker's table becomes a program: pasted, looked at, kept as a draft, gone through, applied."""

import re
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from servicing import tasks
from servicing.duties.preview import preview_moves
from servicing.duties.refresh import refresh_duties
from servicing.models import Duty, ProgramVersion, SentProgram, Task, TaskOverride
from servicing.programs import drafts, uploads
from tests.factories import (
    FitmentFactory,
    IntervalFactory,
    MachineFactory,
    MachineTypeFactory,
    PartFactory,
    ProgramVersionFactory,
    TaskFactory,
)
from tests.servicing.programs.test_load import WRITTEN

H = Decimal
HEAD = "Task\tfirst 50 h\tevery 100 h\t200 h\t400 h\t1 year\t2 years\tPage"
BODY = [
    f"Task {n}\t\t{'x' if n % 2 else ''}\t{'' if n % 2 else 'x'}\tx\t{'x (1)' if n == 7 else ''}\t\t{n}-1"
    for n in range(1, 31)
]
NOTE = "(1) Sooner where it is dusty."


@pytest.fixture
def kind(farm):
    return MachineTypeFactory(organisation=farm.organisation)


@pytest.fixture
def current(farm, kind):
    """The type's program: oil first at 50, then every 200 h; a filter at 100 h."""
    version = ProgramVersionFactory(
        program__organisation=farm.organisation,
        program__machine_type=kind,
        program__title="Tractor",
        program__round=["seat", "front"],
        made_at=datetime(2026, 1, 1, tzinfo=UTC),
    )
    oil = TaskFactory(version=version, code="oil", title="Oil", steps=["Drain.", "Fill."], position=0)
    IntervalFactory(task=oil, first_hours=H(50), every_hours=H(200), anchor="done", early_window_hours=H(5))
    IntervalFactory(task=TaskFactory(version=version, code="filter", title="Filter", position=1))
    return version


@pytest.fixture
def draft(farm, current):
    farm.client("manager").post(reverse("program-draft-begin", args=[current.program_id]))
    with farm.scope():
        return ProgramVersion.objects.drafts().get()


def about(kind, **more):
    return {
        "machine_type": kind.pk,
        "title": "Tractor",
        "source": "Manual 12, second edition",
        "anchor": "marks",
        **more,
    }


def inputs(page):
    """What the table's inputs hold, as a browser would send it back."""
    found = re.findall(r'name="((?:cell|code)-[0-9-]+|rows|columns)" value="([^"]*)"', page.content.decode())
    return dict(found)


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
    assert "30 marks of 1 machine would move" in client.get(apply).content.decode()
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


def load(farm, client, written):
    """Send a program file and have a worker read it; return its page."""
    upload = SimpleUploadedFile("pump.yaml", written.encode())
    address = client.post(reverse("program-load"), {"file": upload})["Location"]
    sending = client.get(address).content.decode()
    assert "It will be read in a moment." in sending
    assert 'hx-trigger="every 1s"' in sending
    with farm.scope():
        tasks.read_program(
            sent_id=int(address.strip("/").rpartition("/")[2]), organisation_id=farm.organisation.pk
        )
    assert client.get(address, headers={"HX-Request": "true"})["HX-Refresh"] == "true"
    return client.get(address)


def test_a_yaml_file_becomes_a_draft_or_says_its_faults_by_line(farm):
    client = farm.client("manager")
    shown = load(farm, client, WRITTEN.replace("minutes: 20", "minutes: soon"))
    assert "line 18: tasks[0] oil: minutes must be a whole number" in shown.content.decode()
    kept = load(farm, client, WRITTEN)
    with farm.scope():
        version = ProgramVersion.objects.get()
        assert (version.state, version.tasks.count(), version.made_by) == ("draft", 2, farm.manager)
    assert kept.url == reverse("program-draft", args=[version.pk])
    again = load(farm, client, WRITTEN)
    assert "has a draft already" in again.content.decode()
    with farm.scope():
        drafts.discard(version=version)
    address = again.request["PATH_INFO"]
    assert client.post(address)["Location"] == address
    with farm.scope():
        uploads.read(SentProgram.objects.first().pk)
    assert "/programs/drafts/" in client.get(address)["Location"]
    assert "is loaded already" in client.post(address, follow=True).content.decode()


def test_no_file_and_one_too_large_are_told_at_once(farm):
    client, page = farm.client("manager"), reverse("program-load")
    assert client.post(page).status_code == 422
    large = client.post(page, {"file": SimpleUploadedFile("pump.yaml", b"a" * 300_000)})
    assert large.status_code == 422
    assert "pump.yaml is larger than 256 KB" in large.content.decode()
    with farm.scope():
        assert not SentProgram.objects.exists()


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


def fields(page):
    """Every named input of a page as a browser would send it."""
    editor = page.context["editor"]
    forms = [editor.form, *editor.intervals]
    data = {}
    for formset in editor.sets.values():
        data |= {field.html_name: field.value() for field in formset.management_form}
        forms += list(formset)
    for form in forms:
        for field in form:
            value = field.value()
            if value is not False and value not in (None, "", []):
                data[field.html_name] = value
    return data


def test_a_task_is_filled_in(farm, draft, kind):
    with farm.scope():
        kind.fitments.add(FitmentFactory(organisation=farm.organisation, code="cab", name="Cab"))
        oil = draft.tasks.get(code="oil")
    client, page = farm.client("manager"), reverse("program-task", args=[oil.pk])
    same = fields(client.get(page))
    assert client.post(page, same).status_code == 302
    with farm.scope():
        kept = oil.intervals.get() if Task.objects.filter(pk=oil.pk) else None
        assert (kept.first_hours, kept.every_hours, kept.anchor, kept.early_window_hours) == (
            50,
            200,
            "done",
            5,
        )

    entry = same | {
        "interval-dust-every_hours": "50",
        "interval-dust-anchor": "done",
        "minutes": "25",
        "needs": ["cab"],
        "new_place": "Rear axle",
        "opens": "Bonnet",
        "prepare": "Park on level ground.",
        "steps": "Drain.\nFill.\nLook.",
        "cautions-0-hazard": "hot",
        "cautions-0-text": "Hot oil.",
        "cautions-0-before_step": "1",
        "checks-0-kind": "measure",
        "checks-0-label": "Belt deflection",
        "checks-0-unit": "mm",
        "checks-0-lower": "7,5",
        "checks-0-upper": "9",
        "checks-1-kind": "level",
        "checks-1-label": "Oil level",
        "checks-1-passing": "between the marks",
        "checks-1-failing": "below low: top up",
        "outside": "refer",
        "outside_text": "Ask the dealer.",
        "tools-0-tool": "socket",
        "tools-0-size": "17 mm",
        "supplies-0-number": "HX-1",
        "supplies-0-name": "Engine oil",
        "supplies-0-quantity": "3.5",
        "supplies-0-unit": "L",
    }
    assert client.post(page, entry).status_code == 302
    with farm.scope():
        oil.refresh_from_db()
        assert (oil.code, oil.minutes, oil.place, oil.opens) == ("oil", 25, "rear-axle", ["bonnet"])
        assert (oil.steps, oil.outside) == (["Drain.", "Fill.", "Look."], "refer")
        draft.program.refresh_from_db()
        assert draft.program.round == ["seat", "front", "rear-axle"]
        assert [fitment.code for fitment in oil.needs.all()] == ["cab"]
        assert {(each.condition, each.every_hours) for each in oil.intervals.all()} == {
            ("normal", 200),
            ("dust", 50),
        }
        assert [(each.hazard, each.before_step) for each in oil.cautions.all()] == [("hot", 1)]
        belt, level = oil.checks.all()
        assert (belt.code, belt.lower, belt.upper, belt.unit) == ("belt-deflection", H("7.5"), 9, "mm")
        assert level.choices == [
            {"value": "between the marks", "meaning": "", "passes": True},
            {"value": "below low", "meaning": "top up", "passes": False},
        ]
        assert [str(tool) for tool in oil.tools.all()] == ["socket 17 mm"]
        assert [(need.quantity, need.part.number) for need in oil.supplies.all()] == [(H("3.5"), "HX-1")]
    emptied = {
        name: value
        for name, value in fields(client.get(page)).items()
        if not re.match(r"(tools|cautions)-0", name)
    }
    assert client.post(page, emptied).status_code == 302
    with farm.scope():
        assert not oil.tools.exists()
        assert not oil.cautions.exists()
        assert oil.checks.count() == 2


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ({"interval-normal-every_hours": "often"}, "not a number"),
        ({"interval-normal-once": "on"}, "due once has no"),
        ({"interval-normal-early_window_hours": "200"}, "must be shorter than the interval"),
        (
            {"checks-0-kind": "measure", "checks-0-label": "Gap", "checks-0-unit": "mm"},
            "the lowest or the highest",
        ),
        (
            {
                "checks-0-kind": "sight",
                "checks-0-label": "Belt",
                "checks-0-passing": "whole",
                "checks-0-upper": "2",
            },
            "kind “look” has none",
        ),
        ({"cautions-0-hazard": "hot", "cautions-0-text": "Hot.", "cautions-0-before_step": "9"}, "no step 9"),
        ({"supplies-0-number": "HX-1", "supplies-0-name": "Oil"}, "Quantity</a>: This field is required"),
        (
            {"supplies-0-number": "HX-1", "supplies-0-name": "Oil", "supplies-0-quantity": "0"},
            "how much is needed",
        ),
        (
            {"supplies-0-number": "P-1", "supplies-0-name": "O", "supplies-0-quantity": "1"},
            "counted in L here",
        ),
    ],
)
def test_a_wrong_entry_is_said_and_nothing_is_lost(farm, draft, entry, said):
    PartFactory(organisation=farm.organisation, number="P-1", unit="L")
    with farm.scope():
        oil = draft.tasks.get(code="oil")
    client, page = farm.client("manager"), reverse("program-task", args=[oil.pk])
    shown = client.post(page, fields(client.get(page)) | {"title": "Oil, all of it"} | entry)
    assert shown.status_code == 422
    words = shown.content.decode()
    assert said in words
    assert "Oil, all of it" in words
    with farm.scope():
        oil.refresh_from_db()
        assert oil.title == "Oil"


def test_more_rows_keep_what_was_typed(farm, draft):
    with farm.scope():
        oil = draft.tasks.get(code="oil")
    client, page = farm.client("manager"), reverse("program-task", args=[oil.pk])
    shown = client.post(page, fields(client.get(page)) | {"tools-0-tool": "funnel", "do": "tools"})
    assert shown.status_code == 200
    assert len(shown.context["editor"].sets["tools"].forms) == 4
    assert 'value="funnel"' in shown.content.decode()
    with farm.scope():
        assert not oil.tools.exists()


def test_the_look_before_applying_says_what_a_refresh_then_does(farm, kind, current, draft):
    machines = [MachineFactory(organisation=farm.organisation, type=kind, tag=f"T-{n}") for n in (1, 2)]
    with farm.scope():
        refresh_duties(machine_ids=[machine.pk for machine in machines])
        draft.tasks.get(code="filter").delete()
        draft.tasks.get(code="oil").intervals.update(first_hours=H(40))
        IntervalFactory(task=TaskFactory(version=draft, code="belt", title="Belt"), every_months=6)
        before = {(d.machine_id, d.task.code): (d.mark_hours, d.active) for d in Duty.objects.all()}
        moves = preview_moves(version=draft)
        assert before == {(d.machine_id, d.task.code): (d.mark_hours, d.active) for d in Duty.objects.all()}
    client, page = farm.client("manager"), reverse("program-apply", args=[draft.pk])
    words = client.get(page).content.decode()
    assert "6 marks of 2 machines would move" in words
    assert [(words.count(word)) for word in ("new duty", "ends</td>", "mark moves")] == [2, 2, 2]

    assert client.post(page, {}).status_code == 302
    with farm.scope():
        current.refresh_from_db()
        assert current.state == "retired"
        refresh_duties(machine_ids=[machine.pk for machine in machines])
        after = {
            (duty.machine_id, duty.task.title): (duty.mark_hours, duty.mark_on)
            for duty in Duty.objects.live().select_related("task")
        }
        said = {
            (move.machine.pk, move.title): (move.after.hours, move.after.on) for move in moves if move.after
        }
        assert said == after
        assert preview_moves(version=draft) == []
    assert client.get(page).status_code == 404


def test_looking_asks_as_many_queries_for_many_machines(farm, kind, current, draft):
    client, page = farm.client("manager"), reverse("program-apply", args=[draft.pk])

    def asked(count):
        for _ in range(count):
            MachineFactory(organisation=farm.organisation, type=kind)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(page).status_code == 200
        return len(queries)

    assert asked(2) == asked(6)


def test_an_empty_draft_is_not_applied(farm, draft):
    with farm.scope():
        draft.tasks.all().delete()
    shown = farm.client("manager").post(reverse("program-apply", args=[draft.pk]), {})
    assert shown.status_code == 422
    assert "The draft has no tasks." in shown.content.decode()


def test_a_draft_is_thrown_away(farm, current, draft):
    client = farm.client("manager")
    assert client.post(reverse("program-discard", args=[draft.pk])).status_code == 302
    with farm.scope():
        assert list(ProgramVersion.objects.all()) == [current]


def test_a_task_is_taken_out(farm, draft):
    with farm.scope():
        oil = draft.tasks.get(code="oil")
    farm.client("manager").post(reverse("program-task-remove", args=[oil.pk]))
    with farm.scope():
        assert [task.code for task in draft.tasks.all()] == ["filter"]


def test_places_and_fitments(farm, draft, kind):
    client, page = farm.client("manager"), reverse("program-about", args=[draft.pk])
    entry = {"title": "T", "source": "M", "round": "Left side\nfront", "fitments": "Cab\nFront loader"}
    assert client.post(page, entry).status_code == 302
    with farm.scope():
        draft.program.refresh_from_db()
        assert draft.program.round == ["left-side", "front"]
        assert {fitment.code for fitment in kind.fitments.all()} == {"cab", "front-loader"}
        draft.tasks.filter(code="oil").update(place="front")
    refused = client.post(page, {**entry, "round": "left side"})
    assert "done at: front" in refused.content.decode()


def test_a_machine_departs_and_follows_again(farm, kind, current):
    machine = MachineFactory(organisation=farm.organisation, type=kind, tag="T-1")
    client, page = farm.client("manager"), reverse("machine-depart", args=[machine.pk])
    with farm.scope():
        oil = current.tasks.get(code="oil")
    nothing = client.post(page, {"task": oil.pk, "how": "interval", "reason": "Dust."})
    assert nothing.context["form"].errors == {"every_hours": ["Enter hours, months or both."]}
    entry = {"task": oil.pk, "how": "interval", "every_hours": "75", "reason": "Old engine."}
    assert client.post(page, entry).status_code == 302
    words = client.get(machine.get_absolute_url()).content.decode()
    assert "Oil: every 75&nbsp;h" in words
    assert f"Old engine. ({farm.manager}" in words
    with farm.scope():
        made = TaskOverride.objects.get()
    assert (
        "Follow the program again"
        not in farm.client("counter").get(machine.get_absolute_url()).content.decode()
    )
    assert farm.client("counter").post(reverse("machine-depart-end", args=[made.pk])).status_code == 403
    assert client.post(reverse("machine-depart-end", args=[made.pk])).status_code == 302
    with farm.scope():
        assert not TaskOverride.objects.exists()


@pytest.mark.parametrize("role", ["technician", "counter"])
def test_who_does_not_manage_the_fleet_only_reads(farm, current, draft, role):
    client = farm.client(role)
    words = client.get(reverse("programs")).content.decode()
    assert "Enter a program" not in words
    assert "Drafts" not in words
    for name, args in (
        ("program-new", []),
        ("program-load", []),
        ("program-draft", [draft.pk]),
        ("program-table", [draft.pk]),
        ("program-apply", [draft.pk]),
    ):
        assert client.get(reverse(name, args=args)).status_code == 403


def test_a_stranger_finds_no_draft(stranger, draft, farm):
    client = stranger.client("manager")
    with farm.scope():
        task = draft.tasks.first()
    for name in ("program-draft", "program-table", "program-about", "program-apply"):
        assert client.get(reverse(name, args=[draft.pk])).status_code == 404
    assert client.get(reverse("program-task", args=[task.pk])).status_code == 404
    assert client.post(reverse("program-discard", args=[draft.pk])).status_code == 404
