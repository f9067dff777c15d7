"""Two senders at the same moment, each on a connection of its own to a real PostgreSQL."""

import threading
import time
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection, transaction

from fleet import readings
from fleet.models import Machine, Reading
from fleet.readings import Submitted
from tests.at_once import at_once

pytestmark = [
    pytest.mark.service,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("several_writers"),
]
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
WAITS_FOR_US = """
SELECT EXISTS (SELECT 1 FROM pg_locks WHERE NOT granted AND pg_backend_pid() = ANY (pg_blocking_pids(pid)))
"""


def take(house, rows):
    return readings.take(organisation=house.organisation, rows=rows, source="api", sender="box")


def somebody_waits():
    """Return once another connection waits for what this one has locked."""
    end = time.monotonic() + 20
    while time.monotonic() < end:
        with connection.cursor() as cursor:
            cursor.execute(WAITS_FOR_US)
            if cursor.fetchone()[0]:
                return
        time.sleep(0.02)
    raise AssertionError("nobody came to wait")


def test_two_identical_batches_count_once(farm):
    machines = [farm.machine() for _ in range(10)]
    rows = [
        Submitted(machine.pk, NOON + timedelta(days=day), 100 + day, client_id=f"{machine.pk}-{day}")
        for machine in machines
        for day in range(10)
    ]
    first, second = at_once(lambda: take(farm, rows), lambda: take(farm, rows[::-1]))
    states = sorted(receipt.state for receipt in [*first, *second])
    assert states == ["counted"] * 100 + ["duplicate"] * 100
    with farm.scope():
        assert Reading.objects.count() == 100
        assert set(Machine.objects.values_list("hours", flat=True)) == {109}


def test_the_second_waits_for_the_first_and_then_finds_its_rows(farm):
    machine = farm.machine()
    rows = [Submitted(machine.pk, NOON, 100)]
    taken = threading.Event()

    def first():
        with transaction.atomic():
            receipts = take(farm, rows)
            taken.set()
            somebody_waits()
        return receipts

    def second():
        taken.wait(timeout=10)
        return take(farm, rows)

    (one,), (other,) = at_once(first, second)
    assert (one.state, other.state) == ("counted", "duplicate")
    assert one.reading == other.reading


def test_two_readings_that_cannot_both_be_true_are_judged_one_after_the_other(farm):
    machine = farm.machine()
    take(farm, [Submitted(machine.pk, NOON, 100)])
    taken = threading.Event()

    def first():
        with transaction.atomic():
            receipts = take(farm, [Submitted(machine.pk, NOON + timedelta(days=10), 110)])
            taken.set()
            somebody_waits()
        return receipts

    def second():
        taken.wait(timeout=10)
        return take(farm, [Submitted(machine.pk, NOON + timedelta(days=10, hours=1), 120)])

    (one,), (other,) = at_once(first, second)
    assert (one.state, other.state, other.code) == ("counted", "held", "too_fast")


def test_one_client_id_for_two_machines_at_once(farm):
    """No lock on a machine can help here: the constraint does, and the second try sees the first's row."""
    machines = [farm.machine() for _ in range(2)]
    taken = threading.Event()

    def first():
        with transaction.atomic():
            receipts = take(farm, [Submitted(machines[0].pk, NOON, 100, client_id="x")])
            taken.set()
            somebody_waits()
        return receipts

    def second():
        taken.wait(timeout=10)
        return take(
            farm,
            [
                Submitted(machines[1].pk, NOON, 200, client_id="x"),
                Submitted(machines[1].pk, NOON, 300, client_id="y"),
            ],
        )

    (one,), (other, more) = at_once(first, second)
    assert (one.state, other.state, more.state) == ("counted", "duplicate", "counted")
    assert other.reading == one.reading
