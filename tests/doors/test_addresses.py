"""The tests of the doors know every address; an address they don't know fails here."""

import re

import pytest
from django.urls import reverse

from fleet.models import User
from tests.doors.addresses import DOORS, operations, patterns
from tests.doors.api import API
from tests.doors.door import read
from tests.doors.pages import KEY_IN_ADDRESS, PUBLIC

pytestmark = pytest.mark.doors


def test_every_address_has_a_name_and_a_door():
    named = {pattern.name for _, pattern in patterns()}
    assert None not in named
    assert named == DOORS.keys() | PUBLIC.keys() | KEY_IN_ADDRESS


def test_no_two_addresses_share_a_name():
    named = [pattern.name for _, pattern in patterns()]
    assert len(named) == len(set(named))


def test_every_id_of_an_address_is_known():
    for route, pattern in patterns():
        door = DOORS.get(pattern.name)
        if door:
            assert set(re.findall(r"<(?:\w+:)?(\w+)>", route)) == {*door.keys, *door.words}, pattern.name


def test_the_apis_document_and_the_doors_offer_the_same():
    routes = {pattern.name: re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", route) for route, pattern in patterns()}
    expected = {(routes[door.name], method) for door in API for method in door.methods}
    found = {(re.sub(r"\{(\w*)id\}", r"{pk}", path), method) for path, method in operations()}
    assert found == expected


@pytest.mark.parametrize("name", sorted(PUBLIC))
def test_open_to_everybody(world, client, name):
    method, expected = PUBLIC[name]
    answer = getattr(client, method)(reverse(name))
    read(answer)
    assert answer.status_code in expected


@pytest.mark.parametrize("door", DOORS.values(), ids=DOORS.keys())
def test_only_offered_methods(ours, door):
    client = door.client(ours, "owner")
    if door.get is None:
        assert client.get(door.address(ours)).status_code == 405
    if door.is_api:
        for method in {"post", "put", "patch", "delete"} - door.methods.keys():
            assert door.send(client, method, door.address(ours)).status_code == 405, method


def test_the_operators_admin_needs_an_operator(ours):
    page = reverse("admin:index")
    for role in ("owner", "manager", "technician", "counter"):
        client = ours.browser(role)
        assert client.get(page).status_code == 302
        assert client.get(reverse("admin:fleet_machine_change", args=[ours.machine.pk])).status_code == 302
        assert client.post(reverse("admin:fleet_machine_delete", args=[ours.machine.pk]), {"post": "yes"}).url
    with ours.house.scope():
        assert type(ours.machine).objects.filter(pk=ours.machine.pk).exists()
    User.objects.filter(pk=ours.house.owner.user_id).update(is_staff=True, is_superuser=True)
    assert ours.browser("owner").get(page).status_code == 200
