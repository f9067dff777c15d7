"""The table of permissions (tests/doors/pages.py and api.py), each line of it as every role."""

import pytest
from django.db import transaction

from fleet.core.roles import RIGHTS
from tests.doors.addresses import DOORS

pytestmark = pytest.mark.doors

TABLE = [(door, method, right) for door in DOORS.values() for method, right in door.methods.items()]
# What an empty body meets where the right is held: it acts, or the form or the document says what is missing.
LET_IN = {
    "get": {200},
    "post": {200, 201, 302, 400, 409, 422},
    "patch": {200, 400},
}


@pytest.mark.parametrize(
    ("door", "method", "right"),
    TABLE,
    ids=[f"{door.name}-{method}-{right or 'any'}" for door, method, right in TABLE],
)
def test_each_role(ours, unchanged, door, method, right):
    held = [role for role, rights in RIGHTS.items() if not right or getattr(rights, right)]
    for role in RIGHTS.keys() - held:
        answer = door.send(door.client(ours, role), method, door.address(ours))
        assert answer.status_code == (404 if door.unseen else 403), role
    assert unchanged()
    let_in = LET_IN[method] | ({404} if door.unseen and not door.names_rows else set())
    for role in held:
        with transaction.atomic():
            answer = door.send(door.client(ours, role), method, door.address(ours))
            transaction.set_rollback(True)  # the next one finds what this one found
        assert answer.status_code in let_in, role


def test_every_right_is_needed_somewhere():
    assert {right for _, _, right in TABLE if right} == set(RIGHTS["owner"].held())


def test_the_roles_are_those_of_the_design():
    """From the table of who comes through the door: each role's questions, and no more."""
    assert RIGHTS["owner"].held() == [
        "manage_people",
        "manage_fleet",
        "decide_readings",
        "plan_orders",
        "work_orders",
        "clear_tag_outs",
        "gate",
        "see_ledger",
    ]
    assert set(RIGHTS["owner"].held()) - set(RIGHTS["manager"].held()) == {"manage_people"}
    assert RIGHTS["technician"].held() == ["work_orders"]
    assert RIGHTS["counter"].held() == ["decide_readings", "gate"]
