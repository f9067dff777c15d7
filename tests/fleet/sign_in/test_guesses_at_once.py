"""Guesses at the same moment, each on a connection of its own to a real PostgreSQL."""

from contextlib import nullcontext
from threading import Barrier, Thread

import pytest
from django.db import connection
from django.test import Client

from fleet.sign_in import hashing, limits
from tests.factories import UserFactory

pytestmark = [pytest.mark.service, pytest.mark.security, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def _postgresql():
    if connection.vendor != "postgresql":
        pytest.skip("DATABASE_URL names no PostgreSQL; SQLite has one writer at a time")


def at_once(names):
    """Guess for each of these names at the same moment; return the answers' statuses."""
    barrier, seen = Barrier(len(names)), []

    def guess(name):
        browser = Client()
        try:
            barrier.wait(timeout=30)
            seen.append(browser.post("/sign-in/", {"username": name, "password": "wrong"}).status_code)
        finally:
            connection.close()

    threads = [Thread(target=guess, args=[name]) for name in names]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
        assert not thread.is_alive()
    return seen


def test_no_more_than_five_are_looked_at(hashes, monkeypatch):
    monkeypatch.setattr(hashing.Turns, "one", lambda self: nullcontext())  # as in so many workers
    user = UserFactory()
    seen = at_once([user.username] * 12)
    assert len(seen) == 12
    assert len(hashes) == limits.PAIR
    assert seen.count(429) >= 12 - limits.PAIR + 1


def test_many_names_from_one_address_are_counted_together(hashes, monkeypatch):
    monkeypatch.setattr(hashing.Turns, "one", lambda self: nullcontext())
    monkeypatch.setattr(limits, "ADDRESS", 6)
    assert len(at_once([f"nobody{number}" for number in range(12)])) == 12
    assert len(hashes) == 6
