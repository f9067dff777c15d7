"""Today of a new organisation: the list of first steps, who sees it, and what is not said before its time."""

import re
from datetime import UTC, datetime
from decimal import Decimal
from html import unescape

import pytest
from django.urls import reverse

from fleet.accounts import setup
from fleet.models import Organisation, SetupStep
from tests.cast import build_house
from tests.factories import DutyFactory, MachineTypeFactory, ProgramVersionFactory

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
pytestmark = pytest.mark.time_machine(NOW, tick=False)

LIST = ">Getting started</h2>"
PRESUMED = ("Nothing needs you today.", "nothing is overdue", "Nothing is likely to fall due")


@pytest.fixture
def house(db):
    return build_house(name="Brook Hire", slug="brook-hire", set_up_at=None)


def page(house, role="owner", path="/"):
    answer = house.client(role).get(path)
    assert answer.status_code == 200
    return unescape(answer.content.decode())


def post(house, name, *args, role="owner"):
    return house.client(role).post(reverse(name, args=args))


def finish(house, *steps):
    with house.scope():
        for step in steps:
            setup.wave_off(step=step, member=house.owner)


def test_nothing_is_said_to_be_nothing_while_nothing_is_known(house):
    for path in ("/", "/ahead/", "/ahead/?view=axis", "/gate/", "/bench/", "/ledger/", "/machines/"):
        html = page(house, path=path)
        assert not [said for said in PRESUMED if said in html], path
    assert "we can't tell what is due yet, for no machine has been entered" in page(house)


def test_machines_without_a_program_tell_as_little(house):
    for number in range(14):
        house.machine(tag=f"T-{number:02}", for_hire=True)
    for path in ("/", "/ahead/", "/gate/", "/ledger/"):
        html = page(house, path=path)
        assert not [said for said in PRESUMED if said in html], path
    assert "for no machine has a service programme" in page(house)
    assert "No machine has a service programme yet" in page(house, path="/ahead/")
    assert "so we can't tell what is due" in page(house, path="/gate/")
    assert "We can't tell yet: no machine has a service programme." in page(house, path="/ledger/")


def test_once_something_is_known_the_day_is_told_again(house):
    DutyFactory(machine=house.machine(), mark_hours=Decimal(500))
    assert "nothing is overdue; the next task is likely due" in page(house)
    assert "tell what is due" not in page(house, path="/gate/")
    assert LIST in page(house)


def test_a_set_up_house_is_not_led(farm):
    farm.machine()
    assert LIST not in page(farm)


@pytest.mark.parametrize("role", ["technician", "counter"])
def test_those_who_only_use_the_machines_are_told_who_is_at_it(house, role):
    DutyFactory(machine=house.machine(), mark_hours=Decimal(500))
    html = page(house, role)
    assert LIST not in html
    assert "the owner or a manager is still setting this up" in html
    assert "nothing is overdue" not in html


def test_sign_ins_are_the_owners_step(house):
    people = reverse("first-day-wave-off", args=["people"])
    with house.scope():
        for member in (house.manager, house.technician, house.counter):
            member.active = member is house.manager
            member.save()
        house.owner.active = False  # so that the manager is alone
        house.owner.save()
    assert people not in page(house, "manager")
    finish_as_manager = ("yards", "machines", "programs", "last-done", "hours", "figures")
    for step in finish_as_manager:
        assert post(house, "first-day-wave-off", step, role="manager").status_code == 302
    html = page(house, "manager")
    assert "Your steps are done. The rest is for the owner." in html
    assert "Close this list" not in html
    assert post(house, "first-day-wave-off", "people", role="manager").status_code == 302
    with house.scope():
        assert not SetupStep.objects.filter(step="people").exists()


def test_a_step_is_waved_off_and_taken_up_again(house):
    assert post(house, "first-day-wave-off", "programs").headers["Location"] == "/"
    html = page(house)
    assert f"Waved off by {house.owner}, " in html
    assert reverse("first-day-take-up", args=["programs"]) in html
    post(house, "first-day-take-up", "programs")
    assert reverse("first-day-wave-off", args=["programs"]) in page(house)


def test_what_is_done_stays_done_though_it_was_waved_off(house):
    finish(house, "machines")
    house.machine()
    html = page(house)
    assert "1 machine in service." in html
    assert reverse("first-day-take-up", args=["machines"]) not in html


@pytest.mark.parametrize("step", ["roof", "x" * 400, "9" * 40])
def test_an_unknown_step_is_not_found(house, step):
    assert post(house, "first-day-wave-off", step).status_code == 404
    assert post(house, "first-day-take-up", step).status_code == 404


def test_each_model_is_named_with_its_own_way_on(house):
    kinds = [
        MachineTypeFactory(organisation=house.organisation, maker="Orrin", model=f"K {number}")
        for number in range(4)
    ]
    for kind in kinds:
        house.machine(type=kind)
    draft = ProgramVersionFactory(
        program__organisation=house.organisation, program__machine_type=kinds[0], state="draft"
    )
    html = page(house)
    assert reverse("program-draft", args=[draft.pk]) in html
    assert all(f"{reverse('program-new')}?machine_type={kind.pk}" in html for kind in kinds[1:])
    assert "1 more model" in html
    form = page(house, path=f"{reverse('program-new')}?machine_type={kinds[2].pk}")
    assert f'<option value="{kinds[2].pk}" selected>' in form


@pytest.mark.parametrize("asked", ["", "x", "-1", "9" * 30, "1.5"])
def test_a_model_that_is_none_preselects_nothing(house, stranger, asked):
    theirs = MachineTypeFactory(organisation=stranger.organisation, model="Secret 9")
    for value in (asked, theirs.pk):
        html = page(house, path=f"{reverse('program-new')}?machine_type={value}")
        assert "Secret 9" not in html
        models = html.split('name="machine_type"')[1].split("</select>")[0]
        assert "Choose the model" in models
        assert not re.search(r'value="[^"]+" selected', models)


def test_the_list_is_closed_when_all_is_done(house):
    finish(house, "yards", "machines", "programs", "last-done", "hours", "figures")
    html = page(house)  # four people may sign in
    assert "Each step is done or not needed here." in html
    assert "Leave all that is open" not in html
    answer = house.client("owner").post(reverse("first-day-close"), follow=True)
    assert "The list is closed." in answer.content.decode()
    assert LIST not in page(house)
    assert "still setting this up" not in page(house, "technician")


def test_leaving_what_is_open_is_asked_first(house):
    html = page(house, path=reverse("first-day-close"))
    assert "No machine has been entered yet." in html
    assert Organisation.objects.get(pk=house.organisation.pk).set_up_at is None
    post(house, "first-day-close")
    assert Organisation.objects.get(pk=house.organisation.pk).set_up_at == NOW
    assert "The list is closed already." in page(house, path=reverse("first-day-close"))
    again = house.client("owner").post(reverse("first-day-close"), follow=True)  # somebody else was first
    assert "The list is closed." not in again.content.decode()


def test_settings_show_the_list_again(farm):
    assert "Show the list again" in page(farm, path=reverse("organisation-settings"))
    post(farm, "first-day-open")
    assert LIST in page(farm)
    assert "Show the list again" not in page(farm, path=reverse("organisation-settings"))


def test_a_machine_whose_program_is_a_draft_says_so(house):
    machine = house.machine()
    ProgramVersionFactory(
        program__organisation=house.organisation, program__machine_type=machine.type, state="draft"
    )
    html = page(house, path=machine.get_absolute_url())
    assert "service programme is still a draft" in html
    assert "working out what is due" not in html
