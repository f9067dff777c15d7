"""No page and no list asks the database more with 200 machines than with 10."""

from collections import Counter

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.doors.addresses import DOORS
from tests.doors.many import Filling

pytestmark = [pytest.mark.doors, pytest.mark.django_db]
LOOKED_AT = [door for door in DOORS.values() if door.get is not None]
FEW, MANY = range(10), range(10, 200)
MOST = 50  # the most at the time of writing: 46, a machine that is asked when its work was last done


@pytest.fixture(scope="module")
def counted(made):
    """The queries of every door, with 10 machines and with 200: {name: (few, many)}."""
    filling = Filling(made.ours)
    filling.fill(FEW)
    for door in LOOKED_AT:  # what is asked once in the life of a process isn't counted
        door.send(door.client(made.ours, "owner"), "get", door.address(made.ours))
    few = {door.name: queries(made.ours, door) for door in LOOKED_AT}
    filling.fill(MANY)
    return {door.name: (few[door.name], queries(made.ours, door)) for door in LOOKED_AT}


def queries(rows, door):
    """The statements that looking at it by the owner asks, without those that only open savepoints."""
    client, address = door.client(rows, "owner"), door.address(rows)
    with CaptureQueriesContext(connection) as asked:
        answer = door.send(client, "get", address)
    assert answer.status_code == 200, door.name
    return [query["sql"] for query in asked if "SAVEPOINT" not in query["sql"]]


@pytest.mark.parametrize("door", LOOKED_AT, ids=lambda door: door.name)
def test_the_number_does_not_grow(counted, door):
    few, many = counted[door.name]
    # one fewer is possible: what is asked only where an attachment is among the likeliest kin, say
    assert len(many) <= len(few), differing(few, many)
    assert len(many) <= MOST


def differing(few, many):
    """The statements of one that the other lacks, by their beginnings."""
    begun = [Counter(sql[:300] for sql in queries) for queries in (few, many)]
    return "\n".join([*(begun[0] - begun[1]), "now:", *(begun[1] - begun[0])])
