"""A table that can be read in more than one way: asked beside the row as typed, answered, then kept."""

import re

import pytest
from django.urls import reverse

from fleet.usage.figures import TIGHT
from servicing.models import ProgramVersion, Task
from tests.servicing.web.programs.table_page import about, inputs

PASTED = "\n".join(
    [
        "Task\tInterval\tSpecification",
        "Change engine oil\tfirst 50 h, then every 250 h\t7.4 L",
        "Check brake hoses\t200-250 h\t",
        "Check fuel hoses\t200-250 h\t",
        "Drain the tank\tbefore storage\t",
    ]
)


@pytest.fixture
def asked(farm, kind):
    client, page = farm.client("manager"), reverse("program-new")
    return client, page, client.post(page, {**about(kind), "pasted": PASTED, "do": "read"})


def radios(page):
    """The answers there are, by question, and those that are chosen."""
    found = re.findall(
        r'<input type="radio" name="(answer-[^"]+)" value="([^"]+)"( checked)?', page.content.decode()
    )
    values: dict[str, list[str]] = {}
    for name, value, _checked in found:
        values.setdefault(name, []).append(value)
    return values, {name: value for name, value, checked in found if checked}


def test_a_question_stands_beside_its_row_as_typed(asked):
    _client, _page, shown = asked
    words = shown.content.decode()
    assert shown.status_code == 200
    assert "2 rows can be read in more than one way" in words
    assert "It names a range. Which end counts?" in words
    assert f"Check brake hoses: every 200{TIGHT}h" in words
    assert "Leave out this row" in words
    values, chosen = radios(shown)
    assert sorted(values) == ["answer-3.2", "answer-4.2"]
    assert chosen == {}


def test_an_open_question_is_not_saved_and_nothing_is_lost(asked, farm, kind):
    client, page, shown = asked
    refused = client.post(page, {**about(kind), **inputs(shown), "do": "save"})
    assert refused.status_code == 422
    assert "Answer 2 questions first." in refused.content.decode()
    assert inputs(refused) == inputs(shown)
    with farm.scope():
        assert not ProgramVersion.objects.exists()


def test_answers_travel_with_the_form_and_decide(asked, farm, kind):
    client, page, shown = asked
    values, _chosen = radios(shown)
    said = {"answer-3.2": values["answer-3.2"][1], "answer-4.2": values["answer-4.2"][-1]}
    again = client.post(page, {**about(kind), **inputs(shown), **said, "do": "check"})
    assert radios(again)[1] == said
    assert "All questions are answered" in again.content.decode()
    kept = client.post(page, {**about(kind), **inputs(again), **said, "do": "save"})
    assert kept.status_code == 302
    with farm.scope():
        tasks = {task.title: task for task in Task.objects.all()}
        assert list(tasks) == ["Change engine oil", "Check brake hoses", "Drain the tank"]
        assert tasks["Check brake hoses"].intervals.get().every_hours == 250
        assert tasks["Change engine oil"].note == "Specification: 7.4 L"
        assert tasks["Drain the tank"].occasion == "before storage"
        assert not tasks["Drain the tank"].intervals.exists()


def test_all_that_read_the_same_are_answered_at_once(asked, farm, kind):
    client, page, shown = asked
    assert "Accept all 2 that read the same" in shown.content.decode()
    second = {"answer-3.2": radios(shown)[0]["answer-3.2"][1]}
    again = client.post(page, {**about(kind), **inputs(shown), **second, "do": "same:3.2"})
    _values, chosen = radios(again)
    assert sorted(chosen) == ["answer-3.2", "answer-4.2"]
    assert client.post(page, {**about(kind), **inputs(again), **chosen, "do": "save"}).status_code == 302
    with farm.scope():
        hoses = Task.objects.filter(title__contains="hoses")
        assert [task.intervals.get().every_hours for task in hoses] == [250, 250]


def test_an_answer_is_good_for_the_words_it_was_given_to_only(asked, kind):
    client, page, shown = asked
    said = {"answer-3.2": radios(shown)[0]["answer-3.2"][0]}
    changed = {**inputs(shown), "cell-3-2": "300-350 h"}
    again = client.post(page, {**about(kind), **changed, **said, "do": "check"})
    assert radios(again)[1] == {}


@pytest.mark.parametrize("answer", ["", "nonsense", "7", "leave-leave", "x" * 5000])
def test_what_is_no_answer_answers_nothing(asked, kind, answer):
    client, page, shown = asked
    again = client.post(page, {**about(kind), **inputs(shown), "answer-3.2": answer, "do": "save"})
    assert again.status_code == 422
    assert "Answer 2 questions first." in again.content.decode()


@pytest.mark.parametrize("place", ["", "9.9", "3.2x", "3.2:3"])
def test_nothing_reads_the_same_as_a_question_that_is_not_there(asked, kind, place):
    client, page, shown = asked
    again = client.post(page, {**about(kind), **inputs(shown), "do": f"same:{place}"})
    assert again.status_code == 200
    assert radios(again)[1] == {}


def test_text_copied_from_a_document_is_read_by_its_blanks(farm, kind):
    pasted = "\n".join(
        [
            "Service item              Every 50 h   Every 250 h   Page",
            "Change engine oil                          x         4-3",
            "Grease pivot pins             x                      4-5",
        ]
    )
    shown = farm.client("manager").post(
        reverse("program-new"), {**about(kind), "pasted": pasted, "do": "read"}
    )
    assert shown.status_code == 200
    cells = inputs(shown)
    assert (cells["cell-2-1"], cells["cell-2-3"], cells["cell-2-4"]) == ("Change engine oil", "x", "4-3")
    assert [each["task"].title for each in shown.context["read"]["tasks"]] == [
        "Change engine oil",
        "Grease pivot pins",
    ]


def test_a_draft_s_own_notes_are_words_and_are_not_asked_again(farm, kind):
    client = farm.client("manager")
    pasted = "Task\tevery 100 h\tNote\nClean filter\tx\tin dusty conditions every 50 h\n"
    shown = client.post(reverse("program-new"), {**about(kind), "pasted": pasted, "do": "read"})
    client.post(reverse("program-new"), {**about(kind), **inputs(shown), "do": "save"})
    with farm.scope():
        draft = ProgramVersion.objects.get()
        assert sorted(draft.tasks.get().intervals.values_list("condition", "every_hours")) == [
            ("dust", 50),
            ("normal", 100),
        ]
    page = reverse("program-table", args=[draft.pk])
    cells = inputs(client.get(page))
    dust = next(name for name, value in cells.items() if value == "dust: every 50 h")
    without = {**cells, dust.replace("cell-1", "cell-2"): ""}
    assert client.post(page, {**without, "anchor": "marks", "do": "save"}).status_code == 302
    with farm.scope():
        assert [each.condition for each in draft.tasks.get().intervals.all()] == ["normal"]


def test_an_occasion_goes_to_the_table_and_back(farm, kind):
    client = farm.client("manager")
    pasted = "Task\tInterval\nDrain the tank\tbefore storage\nGrease\tevery 50 h\n"
    shown = client.post(reverse("program-new"), {**about(kind), "pasted": pasted, "do": "read"})
    client.post(reverse("program-new"), {**about(kind), **inputs(shown), "do": "save"})
    with farm.scope():
        draft = ProgramVersion.objects.get()
    page = reverse("program-table", args=[draft.pk])
    cells = inputs(client.get(page))
    assert "Occasion" in cells.values()
    assert client.post(page, {**cells, "anchor": "marks", "do": "save"}).status_code == 302
    with farm.scope():
        assert draft.tasks.get(title="Drain the tank").occasion == "before storage"
    words = client.get(reverse("program-draft", args=[draft.pk])).content.decode()
    assert "before storage" in words
    assert "(shown, not scheduled)" in words


def test_a_specification_becomes_a_value_to_enter_on_a_yes_only(farm, kind):
    client, page = farm.client("manager"), reverse("program-new")
    pasted = (
        "Task\tInterval\tTorque\nWheel nuts\tevery 100 h\t190-210 Nm\nHead bolts\tevery 500 h\t85-95 Nm\n"
    )
    shown = client.post(page, {**about(kind), "pasted": pasted, "do": "read"})
    words = shown.content.decode()
    assert "Wheel nuts: ask for a value from 190 to 210 Nm" in words
    value = re.search(r'name="answer-2.m" value="([^"]+)"', words)[1]
    said = {"answer-2.m": value, "answer-3.m": "no"}
    assert client.post(page, {**about(kind), **inputs(shown), **said, "do": "save"}).status_code == 302
    with farm.scope():
        check = Task.objects.get(title="Wheel nuts").checks.get()
        assert (check.kind, check.lower, check.upper, check.unit) == ("measure", 190, 210, "N·m")
        assert Task.objects.get(title="Wheel nuts").note == "Torque: 190-210 Nm"
        assert not Task.objects.get(title="Head bolts").checks.exists()


def test_what_is_still_asked_is_not_shown_as_settled(farm):
    pasted = "Task\tWhen\nReplace oil filter\tevery 100 h\nCheck oil\t200-250 h"
    answer = farm.client("manager").post(reverse("program-new"), {"pasted": pasted, "do": "read"})
    told = {task["task"].title: task["is_asked"] for task in answer.context["read"]["tasks"]}
    assert told == {"Replace oil filter": False, "Check oil": True}
    assert answer.content.decode().count("asked above") == 1
