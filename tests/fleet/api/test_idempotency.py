"""Requests with an Idempotency-Key: IETF draft-ietf-httpapi-idempotency-key-header, section 2."""

import json
import threading
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import connection, transaction
from django_scopes import scopes_disabled

from fleet import readings
from fleet.models import ApiToken, KeptAnswer, Reading
from fleet.tasks import forget_answers
from tests.cast import bearer

URL = "/api/v1/readings"


def send(client, shows, key='"a-1"', kind="application/json"):
    body = json.dumps([{"machine": "T-07", "taken_at": "2026-03-01T12:00:00Z", "meter": shows}])
    return client.generic("POST", URL, body, content_type=kind, HTTP_IDEMPOTENCY_KEY=key)


def test_the_first_answer_is_given_again(farm, machine):
    box = farm.device()
    first, again = send(box, 10), send(box, 10)
    assert first.json()["counted"] == 1
    assert (again.status_code, again.content) == (200, first.content)
    assert again["Content-Type"] == "application/json"
    with farm.scope():
        assert Reading.objects.count() == 1


def test_another_body_under_the_same_key_is_refused(farm, machine):
    box = farm.device()
    send(box, 10)
    answer = send(box, 11)
    assert (answer.status_code, answer["Content-Type"]) == (422, "application/problem+json")
    assert answer.json()["type"] == "urn:hourmark:problem:idempotency-key-reused"
    assert send(box, 10, kind="text/csv").status_code == 400  # another media type is another request
    with farm.scope():
        assert Reading.objects.count() == 1


def test_keys_are_each_senders_own(farm, stranger, machine):
    assert send(farm.device(), 10).json()["counted"] == 1
    assert send(farm.device(), 10).json()["duplicate"] == 1  # known by its figures
    assert send(stranger.device(), 10).json()["refused"] == 1
    assert send(farm.api("owner"), 10).json()["duplicate"] == 1
    with scopes_disabled():
        assert KeptAnswer.objects.count() == 4


def test_a_refused_request_keeps_no_key(farm, machine):
    box = farm.device()
    refused = box.generic("POST", URL, "{", content_type="application/json", HTTP_IDEMPOTENCY_KEY='"a-1"')
    assert refused.status_code == 400
    assert send(box, 10).json()["counted"] == 1


def test_work_that_fails_keeps_nothing(farm, machine, monkeypatch):
    box = farm.device()
    box.raise_request_exception = False
    with monkeypatch.context() as patched:

        def written_then_lost(receipts):
            raise RuntimeError

        patched.setattr("fleet.api.readings.written", written_then_lost)
        assert send(box, 10).status_code == 500
    with farm.scope():
        assert not Reading.objects.exists()
        assert not KeptAnswer.objects.exists()
    assert send(box, 10).json()["counted"] == 1


def test_a_key_is_forgotten_after_14_days(farm, machine):
    with farm.scope():
        _, secret = ApiToken.issue(name="box", created_by=farm.owner)
    start = datetime(2026, 3, 2, tzinfo=UTC)
    with time_machine.travel(start, tick=False):
        first = send(bearer(secret), 10)
    with time_machine.travel(start + timedelta(days=14, seconds=-1), tick=False):
        assert send(bearer(secret), 10).content == first.content
        assert forget_answers() == 0
    with time_machine.travel(start + timedelta(days=14), tick=False):
        assert send(bearer(secret), 10).json()["duplicate"] == 1  # kept again
        assert forget_answers() == 0
    with time_machine.travel(start + timedelta(days=28), tick=False):
        assert forget_answers() == 1


@pytest.mark.parametrize(
    "key", ["8e03978e-40d5", '"8e03978e-40d5"', '"with \\"quotes\\" and spaces"', "k" * 255]
)
def test_what_can_be_a_key(farm, machine, key):
    """A string of RFC 8941, 3.3.3; bare ones are taken too, as many boxes send them."""
    box = farm.device()
    assert send(box, 10, key).content == send(box, 10, key).content
    with farm.scope():
        assert KeptAnswer.objects.count() == 1


@pytest.mark.parametrize("key", ["", " ", '""', '"a', 'a"b', '"a"b"', "a b", "k" * 256, '"tab\\t"', "\u00e9"])
def test_what_cannot_be_a_key(farm, machine, key):
    answer = send(farm.device(), 10, key)
    assert (answer.status_code, answer["Content-Type"]) == (400, "application/problem+json")
    with farm.scope():
        assert not Reading.objects.exists()


@pytest.mark.service
@pytest.mark.django_db(transaction=True)
def test_while_the_first_is_being_worked_on_the_second_is_told_so(farm, machine, monkeypatch):
    """On two connections to a real PostgreSQL; and once the first has failed, the key is free at once."""
    if connection.vendor != "postgresql":
        pytest.skip("DATABASE_URL names no PostgreSQL; SQLite has one writer at a time")
    box = farm.device()
    begun, go_on = threading.Event(), threading.Event()
    takes = readings.take

    def slow_and_failing(**kwargs):
        takes(**kwargs)
        begun.set()
        assert go_on.wait(timeout=20)
        raise RuntimeError("the worker dies")

    def first():
        try:
            box.raise_request_exception = False
            statuses.append(send(box, 10).status_code)
        finally:
            connection.close()

    statuses = []
    with monkeypatch.context() as patched:
        patched.setattr(readings, "take", slow_and_failing)
        thread = threading.Thread(target=first)
        thread.start()
        assert begun.wait(timeout=20)
    other = bearer(box._credentials["HTTP_AUTHORIZATION"].split()[1])
    answer = send(other, 10)
    assert answer.status_code == 409
    assert answer.json()["type"] == "urn:hourmark:problem:idempotency-key-in-use"
    go_on.set()
    thread.join(timeout=20)
    assert statuses == [500]
    assert send(other, 10).json()["counted"] == 1


def test_the_answer_is_kept_with_the_readings_or_neither_is(farm, machine):
    """The whole request within a transaction that is rolled back leaves nothing behind."""
    box = farm.device()
    with transaction.atomic():
        send(box, 10)
        transaction.set_rollback(True)
    with farm.scope():
        assert (Reading.objects.count(), KeptAnswer.objects.count()) == (0, 0)
