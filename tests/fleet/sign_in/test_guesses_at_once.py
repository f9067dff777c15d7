"""Guesses at the same moment, each on a connection of its own to a real PostgreSQL."""

from contextlib import nullcontext
from functools import partial

import pytest
from django.test import Client

from fleet.sign_in import hashing, limits
from tests.at_once import at_once
from tests.factories import UserFactory

pytestmark = [
    pytest.mark.service,
    pytest.mark.security,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("several_writers"),
]


def guess_at_once(names):
    """Guess for each of these names at the same moment; return the answers' statuses."""
    guess = {"password": "wrong"}
    works = [partial(Client().post, "/sign-in/", guess | {"username": name}) for name in names]
    return [answer.status_code for answer in at_once(*works)]


def test_no_more_than_five_are_looked_at(hashes, monkeypatch):
    monkeypatch.setattr(hashing.Turns, "one", lambda self: nullcontext())  # as in so many workers
    user = UserFactory()
    seen = guess_at_once([user.username] * 12)
    assert len(seen) == 12
    assert len(hashes) == limits.PAIR
    assert seen.count(429) >= 12 - limits.PAIR + 1


def test_many_names_from_one_address_are_counted_together(hashes, monkeypatch):
    monkeypatch.setattr(hashing.Turns, "one", lambda self: nullcontext())
    monkeypatch.setattr(limits, "ADDRESS", 6)
    assert len(guess_at_once([f"nobody{number}" for number in range(12)])) == 12
    assert len(hashes) == 6
