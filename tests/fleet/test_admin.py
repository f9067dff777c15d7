"""The operator's admin: superusers alone, and records that nobody changes or deletes there."""

import re

import pytest
from django.conf import settings
from django.contrib import admin
from django.contrib.admin.sites import site
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django_scopes import scopes_disabled

from fleet.admin import RecordAdmin
from fleet.models import Decision, Reading, TagOut
from fleet.models.base import OrganisationOwned
from servicing.models import CheckResult
from tests.factories import DutyFactory, LineFactory, ReadingFactory, UserFactory
from tests.fleet.web.rows import device_token, held_reading

OURS = [model for model in site._registry if model._meta.app_label in {"fleet", "servicing", "notifications"}]
NAMES = [model.__name__ for model in OURS]


@pytest.fixture
def operator(db):
    client = Client()
    client.force_login(UserFactory(username="operator", is_staff=True, is_superuser=True))
    return client


@pytest.fixture
def rows(farm):
    with farm.scope():
        reading = held_reading(farm)
        TagOut.objects.create(
            organisation=farm.organisation, machine=reading.machine, reason="leak", placed_by=farm.counter
        )
    farm.attachment(), device_token(farm), LineFactory()
    DutyFactory(machine=reading.machine)
    return farm


def page(model, view, *args):
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_{view}", args=args)


@pytest.mark.parametrize("model", OURS, ids=NAMES)
def test_every_list_and_row_opens(operator, rows, model):
    assert operator.get(page(model, "changelist"), {"q": "x"}).status_code == 200
    assert operator.get(page(model, "changelist")).status_code == 200
    with scopes_disabled():
        row = model.objects.first()
    if row is not None:
        assert operator.get(page(model, "change", row.pk)).status_code == 200
    adds = site._registry[model].has_add_permission
    expected = 403 if isinstance(site._registry[model], RecordAdmin) else 200
    assert operator.get(page(model, "add")).status_code == expected
    assert adds is not None


@pytest.mark.parametrize("model", [Reading, CheckResult, TagOut], ids=lambda model: model.__name__)
def test_records_are_read_only(model):
    assert isinstance(site._registry[model], RecordAdmin)


def test_a_reading_stays_as_it_is(operator, rows):
    with scopes_disabled():
        reading = Reading.objects.first()
    assert operator.post(page(Reading, "change", reading.pk), {"shows": "1"}).status_code == 403
    assert operator.post(page(Reading, "delete", reading.pk), {"post": "yes"}).status_code == 403
    with scopes_disabled():
        assert Reading.objects.get(pk=reading.pk).shows == reading.shows


@pytest.mark.parametrize("model", OURS, ids=NAMES)
def test_what_carries_a_history_is_not_deleted(operator, model, rf):
    """Only rows that nothing hangs on, or that the database protects while something does."""
    request = rf.get("/")
    request.user = UserFactory(is_staff=True, is_superuser=True)
    may = site._registry[model].has_delete_permission(request)
    assert may is (model.__name__ in {"Fitment", "Part"})


def test_a_token_shows_no_hash(operator, rows):
    from fleet.models import ApiToken

    with scopes_disabled():
        token = ApiToken.objects.first()
    assert token.digest not in operator.get(page(ApiToken, "change", token.pk)).content.decode()


@pytest.mark.parametrize("rights", [{}, {"is_staff": True}])
def test_nobody_else_comes_in(farm, rights):
    for name, value in rights.items():
        setattr(farm.owner.user, name, value)
    farm.owner.user.save()
    client = farm.client("owner")
    for model in OURS:
        assert client.get(page(model, "changelist")).status_code == (403 if rights else 302)


def test_every_tenant_owned_model_is_known_to_the_admin():
    from django.apps import apps

    owned = {model for model in apps.get_models() if issubclass(model, OrganisationOwned)}
    inside_others = {"Caution", "ToolNeed", "SupplyNeed"}  # read with the task they belong to
    assert {model.__name__ for model in owned - set(OURS)} == inside_others
    assert admin.site is site


def test_a_list_asks_as_much_for_three_rows_as_for_one(operator, farm, django_assert_num_queries):
    """A decision's row names the machine of its reading and who decided."""
    address = page(Decision, "changelist")
    add_decision(farm)
    with CaptureQueriesContext(connection) as one:
        assert operator.get(address).status_code == 200
    add_decision(farm), add_decision(farm)
    with django_assert_num_queries(len(one)):
        assert b"3 decisions" in operator.get(address).content


def add_decision(house):
    with house.scope():
        machine = house.machine()
        reading = ReadingFactory(machine=machine)
        decided = {"kind": "counted", "was": "held", "became": "counted", "by": house.owner}
        Decision.objects.create(organisation=house.organisation, reading=reading, **decided)


def test_it_bears_the_houses_name_and_nobody_elses(operator, client):
    for browser, address, title in (
        (operator, "/admin/", "Administration"),
        (operator, page(Reading, "changelist"), "Select reading to view"),
        (operator, "/admin/password_change/", "Password change"),
        (client, "/admin/login/", "Sign in as an operator"),
    ):
        html = browser.get(address).content.decode()
        assert f"<title>{title} · Hourmark</title>" in html
        assert "django" not in re.sub(r"csrfmiddlewaretoken|DJANGO_SETTINGS", "", html).lower()
        assert "<style" not in html
        assert " style=" not in html


@pytest.mark.parametrize(
    ("chosen", "dark"), [("dark", 'media="screen"'), ("light", None), ("", "(prefers-color-scheme: dark)")]
)
def test_it_is_light_or_dark_as_chosen_on_the_device(operator, chosen, dark):
    operator.cookies[settings.LOOK_COOKIE] = chosen
    links = re.findall(r"<link[^>]*hourmark/dark\.css[^>]*>", operator.get("/admin/").content.decode())
    assert [dark in link for link in links] == ([] if dark is None else [True])


def test_a_member_who_comes_to_it_is_told_who_they_are(farm):
    html = farm.client("manager").get("/admin/login/").content.decode()
    assert f"You are signed in as {farm.manager.user.username}, who is not an operator." in html
