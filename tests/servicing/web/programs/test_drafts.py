"""A draft is gone through, applied or thrown away; who may."""

from decimal import Decimal as H

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from servicing.duties.preview import preview_moves
from servicing.duties.refresh import refresh_duties
from servicing.models import Duty, ProgramVersion, SupplyNeed
from tests.factories import IntervalFactory, MachineFactory, PartFactory, TaskFactory


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
    assert "6 due points on 2 machines would change" in words
    assert [(words.count(word)) for word in ("new task", "ends</td>", "due point changes")] == [2, 2, 2]

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


def test_a_programme_shows_quantities_without_needless_zeros(farm, current):
    owner = {"organisation": farm.organisation}
    with farm.scope():
        oil = current.tasks.get(code="oil")
        for number, quantity in (("F-1", "2.00"), ("O-1", "7.50")):
            part = PartFactory(**owner, number=number, name="Supply", unit="pc")
            need = SupplyNeed.objects.create(**owner, task=oil, part=part, quantity=H(quantity))
    need.refresh_from_db()
    assert str(need) == "7.5 pc Supply"
    page = farm.client("technician").get(reverse("program", args=[current.program_id])).content.decode()
    assert "<li>2 pc Supply (F-1)</li><li>7.5 pc Supply (O-1)</li>" in page


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
    assert "The draft has no tasks; add one first." in shown.content.decode()


def test_a_draft_is_thrown_away(farm, current, draft):
    client = farm.client("manager")
    assert client.post(reverse("program-discard", args=[draft.pk])).status_code == 302
    with farm.scope():
        assert list(ProgramVersion.objects.all()) == [current]


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
    assert "still use: front" in refused.content.decode()


@pytest.mark.parametrize("role", ["technician", "counter"])
def test_who_does_not_manage_the_fleet_only_reads(farm, current, draft, role):
    client = farm.client(role)
    words = client.get(reverse("programs")).content.decode()
    assert "Enter a programme" not in words
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
