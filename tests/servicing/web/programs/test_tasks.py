"""A task of a draft is filled in."""

import re
from decimal import Decimal as H

import pytest
from django.forms import BooleanField
from django.urls import reverse

from servicing.models import ProgramVersion, Task
from tests.factories import FitmentFactory, PartFactory


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
            unticked = value is False and isinstance(field.field, BooleanField)
            if value not in (None, "", []) and not unticked:
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
        "cautions-0-signal": "warning",
        "cautions-0-actions": ["gloves", "eyes"],
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
        (caution,) = oil.cautions.all()
        assert (caution.hazard, caution.signal, caution.before_step) == ("hot", "warning", 1)
        assert caution.actions == ["gloves", "eyes"]
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
        ({"cautions-0-signal": "notice", "cautions-0-text": "Hot."}, "How badly it hurts</a>: "),
        ({"cautions-0-actions": ["fly"], "cautions-0-text": "Hot."}, "What must be done or worn</a>: "),
        ({"supplies-0-number": "HX-1", "supplies-0-name": "Oil"}, "Quantity</a>: Fill in “Quantity”."),
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


def test_a_task_is_taken_out(farm, draft):
    with farm.scope():
        oil = draft.tasks.get(code="oil")
    farm.client("manager").post(reverse("program-task-remove", args=[oil.pk]))
    with farm.scope():
        assert [task.code for task in draft.tasks.all()] == ["filter"]


@pytest.mark.parametrize(("known", "typed"), [(True, "True"), (False, "False"), (None, "")])
def test_whether_the_engine_runs_is_shown_kept_and_carried_into_the_program(farm, draft, known, typed):
    """Empty is an answer, too: not known, and so taken for yes."""
    with farm.scope():
        oil, filter_ = draft.tasks.order_by("code").reverse()
        Task.objects.filter(pk=oil.pk).update(runs=known)
        Task.objects.filter(pk=filter_.pk).update(runs=not known)
    client = farm.client("manager")
    here, there = (reverse("program-task", args=[each.pk]) for each in (oil, filter_))
    shown = client.get(here)
    assert re.findall(r'<option value="(\w*)" selected>(?:Not known|Yes|No)\b', shown.content.decode()) == [
        typed
    ]
    for page in (here, there):
        assert client.post(page, fields(client.get(page)) | {"runs": typed}).status_code == 302
    assert client.post(reverse("program-apply", args=[draft.pk]), {"note": ""}).status_code == 302
    with farm.scope():
        version = ProgramVersion.objects.get(pk=draft.pk)
        assert (version.state, {task.runs for task in version.tasks.all()}) == ("current", {known})


@pytest.mark.parametrize("typed", ["perhaps", "true", "1"])
def test_another_answer_to_whether_the_engine_runs_is_refused_and_nothing_is_lost(farm, draft, typed):
    with farm.scope():
        oil = draft.tasks.get(code="oil")
    client, page = farm.client("manager"), reverse("program-task", args=[oil.pk])
    shown = client.post(page, fields(client.get(page)) | {"title": "Oil, all of it", "runs": typed})
    assert shown.status_code == 422
    assert "runs" in shown.context["editor"].form.errors
    assert 'value="Oil, all of it"' in shown.content.decode()
    with farm.scope():
        oil.refresh_from_db()
        assert (oil.title, oil.runs) == ("Oil", False)
