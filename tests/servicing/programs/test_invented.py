"""Programs with invented figures: refused in earnest, marked wherever they lead, until a person vouches."""

import io
from copy import deepcopy
from datetime import UTC, datetime
from importlib import import_module

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction
from django.urls import reverse

from fleet.core.errors import FleetError, NotAllowed, WrongState
from servicing import workorders
from servicing.job_sheet.build import build_job_sheet
from servicing.models import Duty, ProgramVersion, SentProgram, WorkOrder
from servicing.models.program import INVENTED_FIGURES
from servicing.planning import maker_table
from servicing.printing.job_sheet_pdf import words
from servicing.programs import drafts, invented_figures, uploads
from servicing.programs.file_format import ProgramFaults, parse
from servicing.programs.load import load_program
from tests.factories import LineFactory
from tests.servicing.programs.test_load import FILES

AUGER = next(file for file in FILES if file.stem == "auger")
HEAD = INVENTED_FIGURES.replace("'", "&#x27;")
MANUAL = "Operator's manual 4711, 3rd edition"
NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


@pytest.fixture
def in_earnest(settings):
    """As in a real installation."""
    settings.DEMO = False


@pytest.fixture
def document():
    return parse(AUGER.read_bytes())


@pytest.fixture
def tried(farm, document):
    """A current version with invented figures."""
    with farm.scope():
        return load_program(organisation=farm.organisation, document=document, trial=True)


@pytest.fixture
def order(farm, tried):
    """An order for a task of the invented program."""
    with farm.scope():
        machine = farm.machine(type=tried.program.machine_type)
        return LineFactory(
            task=tried.tasks.first(), duty=None, order__machine=machine, organisation=farm.organisation
        ).order


def load(farm, document, **options):
    with farm.scope():
        return load_program(organisation=farm.organisation, document=document, **options)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_program_that_comes_along_says_so(file):
    assert parse(file.read_bytes())["invented"] is True


# ------------------------------------------------------------------ loading


def test_a_real_farm_refuses_one(farm, document, in_earnest):
    with pytest.raises(ProgramFaults) as refused:
        load(farm, document)
    assert len(refused.value.faults) == 1
    assert "line 7: invented: do not service a machine by these figures" in refused.value.faults[0]
    with farm.scope():
        assert not ProgramVersion.objects.exists()


def test_its_other_faults_are_told_too(farm, document, in_earnest):
    del document["title"]
    document["tasks"][0]["minutes"] = -1
    with pytest.raises(ProgramFaults) as refused:
        load(farm, document)
    told = "\n".join(refused.value.faults)
    assert len(refused.value.faults) == 3
    assert all(word in told for word in ("title missing", "minutes must", "invented: do not service"))
    with pytest.raises(ProgramFaults) as refused:
        load(farm, document, trial=True)
    assert len(refused.value.faults) == 2


@pytest.mark.parametrize("said", ["true", "yes", 1, None])
def test_what_is_neither_true_nor_false_is_a_fault(farm, document, said):
    document["invented"] = said
    with pytest.raises(ProgramFaults, match="invented must be true or false"):
        load(farm, document)


def test_who_says_that_it_is_a_trial_gets_it_marked(farm, document, in_earnest):
    assert load(farm, document, trial=True).invented is True
    assert (
        load(farm, {**document, "invented": False, "program": "auger-300"}).invented is True
    )  # the same again


def test_a_demo_loads_it_unasked_and_marks_it(farm, document):
    assert load(farm, document).invented is True


def test_a_makers_program_is_not_marked(farm, document, in_earnest):
    del document["invented"]
    assert load(farm, document).invented is False


def test_the_command_refuses_without_its_flag(farm, in_earnest):
    wrong = io.StringIO()
    with pytest.raises(CommandError, match="nothing was loaded"):
        call_command("load_program", AUGER, organisation="alder-farm", stderr=wrong)
    assert "--invented" in wrong.getvalue()
    said = io.StringIO()
    call_command("load_program", AUGER, organisation="alder-farm", invented=True, stdout=said)
    assert INVENTED_FIGURES in said.getvalue()
    with farm.scope():
        assert ProgramVersion.objects.get().invented


def test_the_command_for_every_type_refuses_too(farm, in_earnest):
    general = AUGER.with_name("general.yaml")
    farm.machine()
    options = {
        "organisation": "alder-farm",
        "every_type": True,
        "stdout": io.StringIO(),
        "stderr": io.StringIO(),
    }
    with pytest.raises(CommandError, match="nothing was loaded"):
        call_command("load_program", general, **options)
    call_command("load_program", general, invented=True, **options)
    with farm.scope():
        assert ProgramVersion.objects.get().invented


def test_the_page_refuses_until_its_box_is_ticked(farm, in_earnest):
    client = farm.client("manager")
    page = reverse("program-load")
    assert "Its figures are invented: I will only try it out" in client.get(page).content.decode()
    nothing = client.post(page, {"invented": "on"})
    assert 'name="invented" checked' in nothing.content.decode()  # what was ticked stays ticked

    def read():
        with farm.scope():
            uploads.read(SentProgram.objects.first().pk)

    sent = client.post(page, {"file": SimpleUploadedFile("a.yaml", AUGER.read_bytes())})["Location"]
    read()
    refused = client.get(sent).content.decode()
    assert "do not service a machine by these figures" in refused
    assert "Its figures are invented: I will only try it out" in refused
    client.post(sent, {"invented": "on"})  # read it again, now knowingly
    read()
    assert HEAD in client.get(sent, follow=True).content.decode()

    ticked = {"file": SimpleUploadedFile("b.yaml", AUGER.read_bytes()), "invented": "on"}
    client.post(page, ticked)
    with farm.scope():
        assert SentProgram.objects.first().trial


# ------------------------------------------------------------------ it stays


def test_a_draft_of_it_stays_invented_applied_and_all(farm, tried):
    with farm.scope():
        draft = drafts.copy_current(program=tried.program, member=farm.manager)
        assert drafts.apply(version=rewritten(draft), member=farm.manager).invented is True


def test_a_file_that_takes_tasks_over_stays_invented(farm, tried, document, in_earnest):
    changed = {**deepcopy(document), "invented": False}
    changed["tasks"][0]["minutes"] = 77
    assert load(farm, changed).invented is True


def test_a_file_with_all_tasks_anew_is_not_invented(farm, tried, document, in_earnest):
    again = {**deepcopy(document), "invented": False}
    for task in again["tasks"]:
        task["minutes"] += 7
    assert load(farm, again).invented is False


@pytest.mark.parametrize(
    ("title", "carried"), [("Check teeth and pilot point", True), ("Grease the bit", False)]
)
def test_a_makers_table_over_it_is_invented_where_it_keeps_details(farm, tried, title, carried):
    read = maker_table.read([["Task", "50 h"], [title, "x"]])
    assert not read.faults
    with farm.scope():
        version = drafts.begin(
            organisation=farm.organisation,
            machine_type=tried.program.machine_type,
            title="Auger",
            source=MANUAL,
            tasks=read.tasks,
            member=farm.manager,
        )
        assert version.invented is carried


def test_an_older_version_that_was_loaded_unmarked_is_marked_by_its_file(farm, tried, document):
    with farm.scope():
        ProgramVersion.objects.update(invented=False)
    assert load(farm, document).invented is True


def test_those_loaded_before_there_was_a_mark_get_it(farm, tried):
    move = import_module("servicing.migrations.0005_invented_figures")
    with farm.scope():
        ProgramVersion.objects.update(invented=False)
        move.mark_programs_that_came_along(apps, None)
        assert ProgramVersion.objects.get().invented
        tried.program.source = MANUAL
        tried.program.save()
        ProgramVersion.objects.update(invented=False)
        move.mark_programs_that_came_along(apps, None)
        assert not ProgramVersion.objects.get().invented


# ------------------------------------------------------------------ until a person says


@pytest.fixture
def draft(farm, tried):
    with farm.scope():
        return drafts.copy_current(program=tried.program, member=farm.manager)


def rewritten(draft):
    draft.tasks.filter(code="teeth").update(minutes=77)
    return draft


def test_a_persons_word_is_kept_with_name_time_and_manual(farm, draft):
    with farm.scope():
        said = invented_figures.replaced(
            version=rewritten(draft), manual=f" {MANUAL} ", member=farm.manager, now=NOON
        )
        drafts.apply(version=said, member=farm.owner)
        kept = ProgramVersion.objects.current().get()
    assert (kept.invented, kept.replaced_by, kept.replaced_at) == (False, farm.manager, NOON)
    assert kept.replaced_from == kept.program.source == MANUAL
    page = farm.client("technician").get(reverse("program", args=[kept.program_id])).content.decode()
    assert HEAD not in page
    assert f"{farm.manager} confirmed on 4\u00a0May 2026" in page


def test_the_word_is_not_taken_for_an_unchanged_copy_or_without_a_manual(farm, draft):
    with farm.scope():
        with pytest.raises(FleetError, match="Nothing in this draft differs"):
            invented_figures.replaced(version=draft, manual=MANUAL, member=farm.manager)
        with pytest.raises(FleetError) as refused:
            invented_figures.replaced(version=rewritten(draft), manual=" ", member=farm.manager)
        assert refused.value.field == "manual"
        with pytest.raises(NotAllowed):
            invented_figures.replaced(version=draft, manual=MANUAL, member=farm.technician)
        assert ProgramVersion.objects.drafts().get().invented


def test_only_an_invented_draft_needs_it(farm, tried, draft):
    with farm.scope():
        with pytest.raises(WrongState, match="draft is gone"):
            invented_figures.replaced(version=tried, manual=MANUAL, member=farm.manager)
        invented_figures.replaced(version=rewritten(draft), manual=MANUAL, member=farm.manager)
        with pytest.raises(WrongState, match="not marked"):
            invented_figures.replaced(version=draft, manual=MANUAL, member=farm.manager)


def test_the_page_asks_for_both_and_tells_both(farm, draft):
    client, page = farm.client("manager"), reverse("program-replaced", args=[draft.pk])
    answer = client.post(page, {})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "Name the maker&#x27;s manual" in text
    assert "Tick this once every figure is the maker&#x27;s." in text
    answer = client.post(page, {"manual": MANUAL, "sure": "on"})
    assert answer.status_code == 422
    assert "Nothing in this draft differs" in answer.content.decode()
    with farm.scope():
        rewritten(draft)
    assert client.post(page, {"manual": MANUAL, "sure": "on"}).status_code == 302
    assert HEAD not in client.get(reverse("program-draft", args=[draft.pk])).content.decode()


def test_no_row_says_half_of_it(farm, draft):
    with farm.scope(), pytest.raises(IntegrityError), transaction.atomic():
        ProgramVersion.objects.filter(pk=draft.pk).update(invented=False, replaced_at=NOON)


# ------------------------------------------------------------------ told wherever it leads


@pytest.mark.parametrize(
    "page", ["program", "order", "order-close", "order-steps", "order-sheet", "order-handover", "machine"]
)
def test_the_head_of_each_page_says_it(farm, tried, order, page):
    with farm.scope():
        if page in ("order-close", "order-steps"):
            workorders.start(order=order, member=farm.manager, revision=order.revision)
        pk = {"program": tried.program_id, "machine": order.machine_id}.get(page, order.pk)
        client = farm.client("manager")
        assert HEAD in client.get(reverse(page, args=[pk])).content.decode()
        ProgramVersion.objects.update(invented=False)
        assert HEAD not in client.get(reverse(page, args=[pk])).content.decode()


@pytest.mark.parametrize("page", ["program-draft", "program-about", "program-table", "program-apply"])
def test_so_does_each_page_of_a_draft(farm, draft, page):
    assert HEAD in farm.client("manager").get(reverse(page, args=[draft.pk])).content.decode()


def test_the_lists_of_programs_say_it(farm, draft):
    page = farm.client("manager").get(reverse("programs")).content.decode()
    assert page.count("Invented figures") == 2


def test_the_sheet_on_paper_says_it(farm, order):
    with farm.scope():
        built = build_job_sheet(order)
        assert words(built, at=NOON)["invented"] == INVENTED_FIGURES
        ProgramVersion.objects.update(invented=False)
        assert words(build_job_sheet(order), at=NOON)["invented"] == ""


def test_the_api_says_it(farm, tried, order):
    with farm.scope():
        Duty.objects.create(
            organisation=farm.organisation, machine=order.machine, task=tried.tasks.last(), mark_hours=50
        )
    api = farm.api("manager")
    assert api.get(f"/api/v1/programs/{tried.program_id}").json()["invented"] is True
    assert api.get("/api/v1/programs").json()["results"][0]["invented"] is True
    assert api.get(f"/api/v1/orders/{order.pk}").json()["invented"] is True
    assert api.get("/api/v1/tasks-due").json()["results"][0]["task"]["invented"] is True


def test_an_order_keeps_saying_it_when_the_program_is_put_right(farm, draft, order):
    with farm.scope():
        said = invented_figures.replaced(version=rewritten(draft), manual=MANUAL, member=farm.manager)
        drafts.apply(version=said, member=farm.manager)
        assert WorkOrder.objects.with_everything().get(pk=order.pk).invented is True
    assert HEAD in farm.client("technician").get(order.get_absolute_url()).content.decode()
