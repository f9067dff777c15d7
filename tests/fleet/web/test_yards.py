"""Yards and the settings of the organisation."""

import pytest
from django.urls import reverse
from django_scopes import scopes_disabled

from fleet.models import Organisation, Yard
from tests.factories import YardFactory

SETTINGS = {
    "name": "Alder Farm",
    "currency": "kes",
    "zone": "Africa/Nairobi",
    "units": "us",
    "digest_hour": "0",
    "notice_days": "21",
    "hire_margin_days": "0",
}


def test_a_yard_is_entered(farm):
    answer = farm.client("manager").post("/yards/new/", {"name": "North barn", "zone": "Atlantic/Canary"})
    assert answer.status_code == 302
    with farm.scope():
        assert Yard.objects.get(name="North barn").zone == "Atlantic/Canary"


def test_a_yard_is_renamed(farm):
    page = reverse("yard", args=[farm.yard.pk])
    assert farm.client("manager").post(page, {"name": "Home", "zone": ""}).status_code == 302
    with farm.scope():
        assert [(yard.name, yard.zone) for yard in Yard.objects.all()] == [("Home", "")]


@pytest.mark.parametrize(
    ("entered", "field"),
    [
        ({"name": "", "zone": ""}, "name"),
        ({"name": "home", "zone": ""}, "name"),
        ({"name": "Barn", "zone": "Mars/Base"}, "zone"),
    ],
)
def test_what_cannot_be_is_refused(farm, entered, field):
    YardFactory(organisation=farm.organisation, name="Home")
    for page in ("/yards/new/", reverse("yard", args=[farm.yard.pk])):
        answer = farm.client("manager").post(page, entered)
        assert answer.status_code == 422
        assert answer.context["form"].errors.keys() == {field}
    with scopes_disabled():
        assert Yard.objects.filter(organisation=farm.organisation).count() == 2


def test_two_organisations_may_use_one_name(farm, stranger):
    YardFactory(organisation=stranger.organisation, name="Home")
    assert farm.client("manager").post("/yards/new/", {"name": "Home", "zone": ""}).status_code == 302


def test_settings_are_kept(farm, stranger):
    assert farm.client("owner").post("/settings/", SETTINGS).status_code == 302
    after = Organisation.objects.get(pk=farm.organisation.pk)
    kept = {name: str(getattr(after, name)) for name in SETTINGS}
    assert kept == SETTINGS | {"currency": "KES"}
    assert Organisation.objects.get(pk=stranger.organisation.pk).currency == "EUR"


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("currency", "EURO"),
        ("currency", "€"),
        ("zone", "Mars/Base"),
        ("units", "cubits"),
        ("digest_hour", "24"),
        ("notice_days", "-1"),
        ("hire_margin_days", "x"),
        ("name", " "),
    ],
)
def test_a_wrong_setting_is_refused_beside_its_field(farm, field, value):
    answer = farm.client("owner").post("/settings/", SETTINGS | {field: value})
    assert answer.status_code == 422
    assert answer.context["form"].errors.keys() == {field}
    assert Organisation.objects.get(pk=farm.organisation.pk).zone == "Europe/Madrid"


def test_a_zone_in_use_under_an_older_name_stays_to_choose(farm):
    Organisation.objects.filter(pk=farm.organisation.pk).update(zone="US/Central")
    page = farm.client("owner").get("/settings/").content.decode()
    assert '<option value="US/Central" selected>' in page
