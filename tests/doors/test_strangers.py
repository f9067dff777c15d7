"""Nobody, another organisation's people, their tokens and devices, at every door of the farm."""

import pytest
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from fleet.core.roles import OWNER, RIGHTS
from tests.doors.addresses import DOORS
from tests.doors.door import ANYBODY_SIGNED_IN

pytestmark = pytest.mark.doors

EVERY = DOORS.values()
WITH_IDS = [door for door in EVERY if door.names_rows]
METHODS = ("get", "post", "put", "patch", "delete")
# no text to search: read back in tests/servicing/web/test_stickers.py and printing/test_report.py
PAPER = {"machine-stickers-pdf", "ledger-pdf"}
NOT_THERE = {404, 405}  # 405: not offered to anybody


def each(doors):
    return pytest.mark.parametrize("door", doors, ids=lambda door: door.name)


@each(EVERY)
def test_nobody_comes_in(ours, unchanged, door):
    client = APIClient() if door.is_api else Client()
    for method in door.methods:
        answer = door.send(client, method, door.address(ours), door.body(ours))
        if door.is_api:
            assert answer.status_code == 401, method
        else:
            assert answer.status_code == 302, method
            assert answer["Location"].startswith(reverse("login")), method
    assert unchanged()


@each(WITH_IDS)
def test_another_organisations_member_finds_nothing(ours, theirs, unchanged, door):
    for role in RIGHTS:
        client = door.client(theirs, role)
        for method in METHODS if role == OWNER else METHODS[:2]:
            answer = door.send(client, method, door.address(ours), door.body(ours))
            assert answer.status_code in allowed(door, method, role), (role, method)
            if method in door.methods:
                # the answer is the one to an id that nobody has, so it doesn't tell that this one exists
                unknown = door.send(client, method, door.address_of_nothing(), door.body(ours))
                assert answer.status_code == unknown.status_code, (role, method)
    assert unchanged()


def allowed(door, method, role):
    """404; where the role may not use the address at all, 403 before anything is looked up."""
    # a method nobody wrote for: a page takes it for one that looks, the API refuses it
    other = door.get or door.post
    right = door.methods.get(method) if method in {"get", "post", *door.methods} else other
    lacks = right and not door.unseen and not getattr(RIGHTS[role], right)
    return {403, 405} if lacks else NOT_THERE


@each(WITH_IDS)
def test_another_organisations_token_finds_nothing(ours, theirs, unchanged, door):
    client = theirs.with_token["owner"]
    for method in METHODS:
        answer = door.send(client, method, door.address(ours), door.body(ours) if door.is_api else None)
        expected = NOT_THERE if door.is_api else {403, 405}  # a token opens no page, whatever its id
        assert answer.status_code in expected, method
    assert unchanged()


@each(EVERY)
def test_a_device_reaches_the_intake_alone(ours, theirs, unchanged, door):
    """Its own organisation's device, and another's."""
    for client in (ours.device, theirs.device):
        for method in door.methods:
            if (door.name, method) == ("api-readings", "post"):
                continue
            answer = door.send(client, method, door.address(ours), door.body(ours) if door.is_api else None)
            assert answer.status_code == 403, method
    assert unchanged()


def test_a_device_sends_hours_to_its_own_organisation(ours, theirs, unchanged):
    door = DOORS["api-readings"]
    answer = door.send(theirs.device, "post", door.address(ours), door.body(ours))
    assert answer.json()["refused"] == 1
    assert unchanged()
    answer = door.send(ours.device, "post", door.address(ours), door.body(ours))
    assert answer.json()["counted"] == 1
    assert not unchanged()


@each([door for door in EVERY if door.writes])
def test_the_same_body_acts_for_the_owner(ours, unchanged, door):
    """So that the refusals above refuse something."""
    answer = door.send(door.client(ours, "owner"), door.writes, door.address(ours), door.body(ours))
    if door.acts:
        assert answer.status_code in {200, 201, 302}
    assert unchanged() != door.acts


@each([door for door in EVERY if door.get is not None and not door.names_rows and door.name not in PAPER])
def test_a_list_shows_nothing_of_another_organisation(ours, theirs, door):
    secrets = [ours.machine.tag, ours.message.subject, ours.house.organisation.name]
    seen = door.send(door.client(ours, "owner"), "get", door.address(ours)).content.decode()
    other = door.send(door.client(theirs, "owner"), "get", door.address(ours))
    assert other.status_code == 200
    assert not [word for word in secrets if word in other.content.decode()]
    assert door.is_api or ours.house.organisation.name in seen


QUERIES = [
    ("ahead", "yard", "yard"),
    ("ahead", "type", "kind"),
    ("machines", "yard", "yard"),
    ("machines", "type", "kind"),
    ("machine-stickers", "yard", "yard"),
    ("orders", "technician", "technician"),
    ("gate", "back", "unit"),
    ("gate", "yard", "yard"),
    ("api-machines", "yard", "yard"),
    ("api-machines", "type", "kind"),
    ("api-readings", "machine", "machine"),
    ("api-tasks-due", "machine", "machine"),
    ("api-tasks-due", "yard", "yard"),
    ("api-tasks-due", "type", "kind"),
    ("api-orders", "machine", "machine"),
    ("api-orders", "technician", "technician"),
]


@pytest.mark.parametrize(
    ("name", "asked", "row"), QUERIES, ids=[f"{name}-{asked}" for name, asked, _ in QUERIES]
)
def test_a_filter_by_another_organisations_id_shows_nothing_of_it(ours, theirs, name, asked, row):
    door = DOORS[name]
    address = f"{door.address(ours)}?{asked}={ours.key(row)}"
    content = door.send(door.client(theirs, "owner"), "get", address).content.decode()
    assert not [
        word
        for word in (ours.machine.tag, ours.unit.tag, ours.kind.model, ours.house.yard.name)
        if word in content
    ]


def test_every_member_may_use_what_needs_no_right():
    assert [door.name for door in EVERY if ANYBODY_SIGNED_IN in door.methods.values()]
