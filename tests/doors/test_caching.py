"""No page of an organisation is kept by a browser or on the way, save those kept for offline."""

import pytest
from django.test import Client
from django.urls import reverse

from tests.doors.addresses import DOORS
from tests.doors.door import read

pytestmark = [pytest.mark.doors, pytest.mark.security]

OFFLINE = {"order-steps", "phone", "phone-machine"}  # what the service worker keeps
LOOKED_AT = [door for door in DOORS.values() if door.get is not None]


def words(answer):
    return {word.strip() for word in answer["Cache-Control"].split(",")}


@pytest.mark.parametrize("door", LOOKED_AT, ids=lambda door: door.name)
def test_what_is_shown_is_not_kept(ours, door):
    answer = door.send(door.client(ours, "owner"), "get", door.address(ours))
    read(answer)
    assert answer.status_code == 200
    if door.name in OFFLINE:
        assert words(answer) == {"private", "no-cache"}
    else:
        assert {"private", "no-store"} <= words(answer)


@pytest.mark.parametrize("door", LOOKED_AT, ids=lambda door: door.name)
def test_nor_is_a_refusal_or_the_way_to_the_sign_in(ours, door):
    for client in (Client(), ours.device):
        answer = door.send(client, "get", door.address(ours))
        read(answer)
        assert {"private", "no-store"} <= words(answer)


def test_static_files_may_be_kept_by_anybody(db):
    answer = Client().get("/static/hourmark/hourmark.css")
    read(answer)
    assert "public" in words(answer)


def test_what_is_not_there_is_not_kept(db):
    assert {"private", "no-store"} <= words(Client().get("/nowhere/"))
    assert {"private", "no-store"} <= words(Client().get(reverse("login")))
