"""Browsers at the sign-in page, from whatever address."""

import pytest
from django.contrib.auth.hashers import MD5PasswordHasher
from django.test import Client

from tests.factories.fleet import PASSWORD

NAME = "ada@example.org"


@pytest.fixture
def ada(farm):
    """The owner, under a name that can be typed in many ways."""
    user = farm.owner.user
    user.username = NAME
    user.save()
    return user


@pytest.fixture
def enter():
    """Type a name and a password into the sign-in page; return the answer."""

    def typed(name=NAME, password="wrong", *, address="192.0.2.1", browser=None, page="/sign-in/"):
        return (browser or Client()).post(page, {"username": name, "password": password}, REMOTE_ADDR=address)

    return typed


@pytest.fixture
def known(ada, enter):
    """A browser in which she has signed in before, and out again."""
    browser = Client()
    assert enter(password=PASSWORD, browser=browser, address="203.0.113.50").status_code == 302
    browser.post("/sign-out/")
    return browser


@pytest.fixture
def hashes(monkeypatch):
    """Which passwords were hashed."""
    seen, encode = [], MD5PasswordHasher.encode

    def counted(self, password, salt):
        seen.append(password)
        return encode(self, password, salt)

    monkeypatch.setattr(MD5PasswordHasher, "encode", counted)
    return seen
