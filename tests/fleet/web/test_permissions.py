"""Every page and who may open it, as one table; and that a stranger finds nothing behind any id."""

import pytest
from django.test import Client
from django.urls import reverse

from fleet.web.urls import urlpatterns
from tests.fleet.web.rows import attachment_of, device_token, held_reading, machine_of, own_token, sent_file

EVERYBODY = {"owner", "manager", "technician", "counter"}
FLEET = {"owner", "manager"}
DECIDERS = {"owner", "manager", "counter"}
OWNER = {"owner"}

# name, method, roles let in, what its id is of
PAGES = [
    ("reading-new", "get", EVERYBODY, None),
    ("reading", "get", EVERYBODY, "reading"),
    ("held-readings", "get", DECIDERS, None),
    ("held-reading-decide", "get", DECIDERS, "reading"),
    ("reading-files", "get", FLEET, None),
    ("reading-file", "get", FLEET, "file"),
    ("reading-file-rejects", "get", FLEET, "file"),
    ("reading-take-back", "post", DECIDERS, "reading"),
    ("machine-new", "get", FLEET, None),
    ("machine-edit", "get", FLEET, "machine"),
    ("machine-retire", "post", FLEET, "machine"),
    ("machine-bring-back", "post", FLEET, "machine"),
    ("meter-replace", "get", FLEET, "machine"),
    ("type-new", "get", FLEET, None),
    ("attachments", "get", EVERYBODY, None),
    ("attachment-new", "get", FLEET, None),
    ("attachment-mount", "get", EVERYBODY, "attachment"),
    ("attachment-remove", "get", EVERYBODY, "attachment"),
    ("people", "get", OWNER, None),
    ("person-new", "get", OWNER, None),
    ("person", "get", OWNER, "member"),
    ("person-link", "post", OWNER, "member"),
    ("account", "get", EVERYBODY, None),
    ("account-password", "post", EVERYBODY, None),
    ("account-mail", "post", EVERYBODY, None),
    ("account-organisation", "post", EVERYBODY, None),
    ("holidays", "get", FLEET, None),
    ("holiday-new", "get", FLEET, None),
    ("telematics", "get", FLEET, None),
    ("telematics-new", "get", FLEET, None),
    ("yards", "get", FLEET, None),
    ("yard-new", "get", FLEET, None),
    ("yard", "get", FLEET, "yard"),
    ("organisation-settings", "get", OWNER, None),
    ("tokens", "get", EVERYBODY, None),
    ("token-new", "get", EVERYBODY, None),
    ("token-revoke", "post", FLEET, "token"),
]
WITH_ID = [page for page in PAGES if page[3]]
OPEN_TO_ALL = {"welcome"}  # the link itself is the key
ONLY_BY_GET = {"reading-file-rejects"}
BY_PATH = {"media", "reading-swap"}  # tests/fleet/web/test_media.py, test_held_behind.py
# their rows are made in tests/doors, where every role, a token and a stranger try each of them
WALKED_BY_EVERY_ROLE = {
    "booking",
    "booking-new",
    "booking-withdraw",
    "holiday",
    "holiday-strike",
    "telematics-edit",
    "telematics-read",
    "telematics-source",
    "telematics-unit",
    "token-rotate",
}


@pytest.fixture
def ids(farm):
    with farm.scope():
        machine = machine_of(farm)
        return {
            "machine": machine.pk,
            "reading": held_reading(farm, machine).pk,
            "attachment": attachment_of(farm).pk,
            "member": farm.counter.pk,
            "yard": farm.yard.pk,
            "token": device_token(farm).pk,
            "file": sent_file(farm).pk,
        }


def address(name, kind, ids):
    return reverse(name, args=[ids[kind]] if kind else [])


def test_the_table_knows_every_page():
    known = {page[0] for page in PAGES} | OPEN_TO_ALL | BY_PATH | WALKED_BY_EVERY_ROLE
    assert {pattern.name for pattern in urlpatterns} == known


@pytest.mark.parametrize("role", sorted(EVERYBODY))
@pytest.mark.parametrize(("name", "method", "roles", "kind"), PAGES, ids=[page[0] for page in PAGES])
def test_role(farm, ids, name, method, roles, kind, role):
    answer = getattr(farm.client(role), method)(address(name, kind, ids))
    if role in roles:
        # a form sent empty comes back; choosing no organisation finds none; nothing was decided to take back
        expected = {404} if name == "account-organisation" else {200, 302, 409, 422}
    else:
        # a device's token is not there at all for those who may not see it
        expected = {404} if name == "token-revoke" else {403}
    assert answer.status_code in expected


@pytest.mark.parametrize(("name", "method", "roles", "kind"), PAGES, ids=[page[0] for page in PAGES])
def test_nobody_comes_in_without_signing_in(farm, ids, name, method, roles, kind):
    answer = getattr(Client(), method)(address(name, kind, ids))
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("login"))


@pytest.mark.parametrize(("name", "method", "roles", "kind"), PAGES, ids=[page[0] for page in PAGES])
def test_a_token_opens_no_page(farm, ids, name, method, roles, kind):
    client = farm.api("owner")
    assert getattr(client, method)(address(name, kind, ids)).status_code == 403


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize(("name", "shown_by", "roles", "kind"), WITH_ID, ids=[page[0] for page in WITH_ID])
def test_a_stranger_finds_nothing(farm, stranger, ids, name, shown_by, roles, kind, method):
    answer = getattr(stranger.client("owner"), method)(address(name, kind, ids))
    not_offered = (shown_by == "post" and method == "get") or (name in ONLY_BY_GET and method == "post")
    assert answer.status_code == (405 if not_offered else 404)


def test_a_stranger_cannot_preselect_a_machine(farm, stranger, ids):
    page = f"{reverse('reading-new')}?machine={ids['machine']}"
    assert farm.client("technician").get(page).status_code == 200
    assert stranger.client("technician").get(page).status_code == 404


def test_one_members_token_is_not_there_for_another(farm):
    token = own_token(farm, "technician")
    page = reverse("token-revoke", args=[token.pk])
    assert farm.client("owner").post(page).status_code == 404
    assert farm.client("technician").post(page).status_code == 302
