"""Machines are entered, changed, retired; their duties are projected again exactly when they depend on it."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from django_scopes import scopes_disabled

from fleet import readings
from fleet.models import Fitment, Hire, Machine, MachineType, MeterSegment
from fleet.readings import propagation
from tests.factories import FitmentFactory, MachineTypeFactory, YardFactory
from tests.fleet.web.rows import all_readings

NEW = "/machines/new/"


@pytest.fixture
def kind(farm):
    return MachineTypeFactory(organisation=farm.organisation, maker="Haldane", model="HX 40")


@pytest.fixture
def told(monkeypatch):
    """The machine ids that were told of after commit."""
    ids = []
    monkeypatch.setattr(
        propagation, "when_hours_move", [lambda organisation_id, machine_ids: ids.extend(machine_ids)]
    )
    return ids


def entry(house, kind, **changed):
    return {
        "tag": "T-07",
        "type": kind.pk,
        "yard": house.yard.pk,
        "serial": "HX2-991",
        "in_service_on": "2026-01-05",
        "hours_at_start": "3240",
        "condition": "normal",
    } | changed


def only_machine():
    with scopes_disabled():
        return Machine.objects.metered().select_related("yard__organisation").get()


def errors(answer):
    assert answer.status_code == 422
    return set(answer.context["form"].errors)


def test_a_machine_is_entered_with_its_meter_and_first_reading(
    farm, kind, told, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        answer = farm.client("manager").post(NEW, entry(farm, kind, price="18500,50"))
    machine = only_machine()
    assert answer["Location"] == reverse("machine", args=[machine.pk])
    assert (machine.tag, machine.hours, machine.price) == ("T-07", Decimal("3240.00"), Decimal("18500.50"))
    assert told == [machine.pk]
    assert machine.projection_wanted_at is not None
    with scopes_disabled():
        meter = MeterSegment.objects.get(machine=machine)
    # the day begins at 23:00 UTC in a Madrid winter (IANA database)
    assert meter.started_at == datetime(2026, 1, 4, 23, tzinfo=UTC)
    assert meter.shows_at_start == Decimal("3240.00")
    assert [(r.shows, r.taken_at, r.state) for r in all_readings()] == [
        (Decimal("3240.00"), meter.started_at, "counted")
    ]


def test_hours_nobody_knows_make_no_reading(farm, kind):
    farm.client("manager").post(NEW, entry(farm, kind, hours_at_start=""))
    assert only_machine().hours == 0
    assert only_machine().hours_at is None
    assert all_readings() == []


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"tag": ""}, "tag"),
        ({"tag": "t-01"}, "tag"),
        ({"serial": "S1"}, "serial"),
        ({"in_service_on": "2999-01-01"}, "in_service_on"),
        ({"in_service_on": "soon"}, "in_service_on"),
        ({"hours_at_start": "-1"}, "hours_at_start"),
        ({"price": "-1"}, "price"),
        ({"condition": "lunar"}, "condition"),
        ({"type": ""}, "type"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(farm, kind, changed, field):
    farm.machine(tag="T-01", serial="S1", type=kind)
    answer = farm.client("manager").post(NEW, entry(farm, kind, **changed))
    assert errors(answer) == {field}
    assert only_machine().tag == "T-01"


def test_an_attachments_type_is_not_a_machines(farm):
    cutter = MachineTypeFactory(organisation=farm.organisation, category="attachment")
    assert errors(farm.client("manager").post(NEW, entry(farm, cutter))) == {"type"}


@pytest.mark.parametrize("field", ["type", "yard", "fitments"])
def test_another_organisations_rows_are_refused(farm, stranger, kind, field):
    FitmentFactory(organisation=farm.organisation)
    theirs = {
        "type": MachineTypeFactory(organisation=stranger.organisation).pk,
        "yard": stranger.yard.pk,
        "fitments": [FitmentFactory(organisation=stranger.organisation).pk],
    }
    answer = farm.client("manager").post(NEW, entry(farm, kind, **{field: theirs[field]}))
    assert errors(answer) == {field}
    machine = farm.machine(type=kind)
    page = reverse("machine-edit", args=[machine.pk])
    answer = farm.client("manager").post(page, entry(farm, kind, **{field: theirs[field]}))
    assert errors(answer) == {field}


def test_the_same_tag_may_be_anothers(farm, stranger, kind):
    stranger.machine(tag="T-07", serial="HX2-991")
    assert farm.client("manager").post(NEW, entry(farm, kind)).status_code == 302


@pytest.fixture
def machine(farm, kind):
    machine = farm.machine(tag="T-07", type=kind, serial="HX2-991")
    with farm.scope():
        machine.fitments.add(FitmentFactory(organisation=farm.organisation, name="Cab"))
    return machine


def edit(house, machine, **changed):
    with house.scope():
        fitments = list(machine.fitments.values_list("pk", flat=True))
        entered = entry(house, machine.type, in_service_on=str(machine.in_service_on), fitments=fitments)
    del entered["hours_at_start"]
    return house.client("manager").post(reverse("machine-edit", args=[machine.pk]), entered | changed)


@pytest.mark.parametrize(
    ("changed", "asks"),
    [
        ({}, False),
        ({"tag": "T-08", "note": "new seat", "price": "12", "for_hire": "on", "serial": ""}, False),
        ({"condition": "dust"}, True),
        ({"fitments": []}, True),
        ({"in_service_on": "2025-12-01"}, True),
    ],
)
def test_duties_are_asked_for_when_they_depend_on_it(
    farm, machine, told, django_capture_on_commit_callbacks, changed, asks
):
    with django_capture_on_commit_callbacks(execute=True):
        assert edit(farm, machine, **changed).status_code == 302
    after = only_machine()
    assert told == ([machine.pk] if asks else [])
    assert (after.projection_wanted_at is not None) == asks
    assert after.tag == changed.get("tag", "T-07")
    assert after.condition == changed.get("condition", "normal")


def test_type_and_yard_count_too(farm, machine, told, django_capture_on_commit_callbacks):
    other = MachineTypeFactory(organisation=farm.organisation)
    yard = YardFactory(organisation=farm.organisation)
    with django_capture_on_commit_callbacks(execute=True):
        edit(farm, machine, type=other.pk)
        edit(farm, machine, type=other.pk, yard=yard.pk)
    assert told == [machine.pk] * 2


def test_a_change_keeps_the_hours(farm, machine):
    with farm.scope():
        readings.take(
            organisation=farm.organisation,
            rows=[readings.Submitted(machine.pk, timezone.now() - timedelta(days=1), "812.5")],
            source="page",
            sender="page",
        )
    edit(farm, machine, condition="dust")
    assert only_machine().hours == Decimal("812.50")


def test_the_form_shows_what_is_known(farm, machine):
    page = farm.client("manager").get(reverse("machine-edit", args=[machine.pk])).content.decode()
    assert 'value="2026-01-01"' in page
    assert 'value="HX2-991"' in page
    assert "Hours on the meter that day" not in page


def retire(house, machine, on):
    return house.client("manager").post(reverse("machine-retire", args=[machine.pk]), {"on": str(on)})


def test_a_machine_is_retired_and_brought_back(farm, machine, told, django_capture_on_commit_callbacks):
    assert retire(farm, machine, "2026-06-01").status_code == 302
    assert only_machine().retired_on == date(2026, 6, 1)
    with django_capture_on_commit_callbacks(execute=True):
        farm.client("manager").post(reverse("machine-bring-back", args=[machine.pk]))
    assert only_machine().retired_on is None
    assert told == [machine.pk]


@pytest.mark.parametrize("on", ["2025-12-31", "2999-01-01", ""])
def test_a_day_that_cannot_be_is_refused(farm, machine, on):
    answer = retire(farm, machine, on)
    assert answer.status_code == 422
    assert answer.context["retire_form"].errors.keys() == {"on"}
    assert only_machine().retired_on is None


def test_a_machine_out_on_hire_stays(farm, machine):
    with farm.scope():
        Hire.objects.create(
            organisation=farm.organisation,
            machine=machine,
            hirer="Fennel Farm",
            out_at=timezone.now(),
            hours_out=0,
        )
    answer = retire(farm, machine, "2026-06-01")
    assert "It is out with Fennel Farm" in answer.content.decode()
    assert only_machine().retired_on is None


def test_a_machine_that_carries_an_attachment_stays(farm, machine):
    attachment = farm.attachment(tag="A-03")
    farm.client("manager").post(reverse("attachment-mount", args=[attachment.pk]), {"machine": machine.pk})
    assert "A-03 is still mounted on it" in retire(farm, machine, "2026-06-01").content.decode()
    assert only_machine().retired_on is None


def test_a_type_is_entered_with_new_fitments(farm):
    FitmentFactory(organisation=farm.organisation, code="cab", name="Cab")
    answer = farm.client("manager").post(
        "/types/new/",
        {
            "maker": "Haldane",
            "model": "HX 55",
            "category": "tractor",
            "new_fitments": "Cab, Particulate filter, ",
        },
    )
    assert answer["Location"] == NEW
    with farm.scope():
        made = MachineType.objects.get()
        assert sorted(made.fitments.values_list("code", flat=True)) == ["cab", "particulate-filter"]
        assert Fitment.objects.count() == 2


@pytest.mark.parametrize(("more", "kept"), [("", True), ("b", False)])
def test_of_two_long_fitments_neither_is_cut_to_be_the_other(farm, more, kept):
    """A code has 50 letters: with longer names, two could share one."""
    entered = {"maker": "Haldane", "model": "HX 55", "category": "tractor"}
    names = ["f" * 50, "f" * 49 + "g" + more]
    answer = farm.client("manager").post("/types/new/", entered | {"new_fitments": ", ".join(names)})
    with farm.scope():
        if kept:
            assert {each.name for each in MachineType.objects.get().fitments.all()} == set(names)
        else:
            assert errors(answer) == {"new_fitments"}
            assert not MachineType.objects.exists()
            assert not Fitment.objects.exists()


@pytest.mark.parametrize(
    ("changed", "field"),
    [({"model": "hx 40"}, "model"), ({"maker": " "}, "maker"), ({"category": "boat"}, "category")],
)
def test_a_type_that_cannot_be_is_refused(farm, kind, changed, field):
    entered = {"maker": "Haldane", "model": "HX 55", "category": "tractor"} | changed
    assert errors(farm.client("manager").post("/types/new/", entered)) == {field}


def test_another_organisations_fitment_is_refused(farm, stranger):
    FitmentFactory(organisation=farm.organisation)
    theirs = FitmentFactory(organisation=stranger.organisation)
    entered = {"maker": "Haldane", "model": "HX 55", "category": "tractor", "fitments": [theirs.pk]}
    assert errors(farm.client("manager").post("/types/new/", entered)) == {"fitments"}
