"""Every page says that a browser runs nothing on it that this server didn't send."""

import pytest
from django.test import Client
from django.urls import reverse

from fleet.models import User

HEADER = "Content-Security-Policy"


@pytest.mark.parametrize("name", ["today", "machines", "account", "organisation-settings", "reading-new"])
def test_a_page_lets_in_nothing_from_elsewhere(farm, name):
    policy = farm.client("owner").get(reverse(name))[HEADER]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy


@pytest.mark.django_db
def test_so_do_the_sign_in_what_is_not_there_and_the_operators_pages():
    browser = Client()
    assert "default-src 'self'" in browser.get(reverse("login"))[HEADER]
    assert "default-src 'self'" in browser.get("/nowhere/")[HEADER]
    browser.force_login(User.objects.create_superuser("operator", password="for the operator alone"))
    assert "default-src 'self'" in browser.get("/admin/")[HEADER]


@pytest.mark.django_db
def test_the_page_of_the_api_is_as_strict_as_any():
    answer = Client().get(reverse("api"))
    assert "default-src 'self'" in answer[HEADER]
    assert "unsafe" not in answer[HEADER]
    assert "script-src" not in answer[HEADER]


def test_what_is_no_page_has_none(farm):
    assert HEADER not in farm.api("owner").get(reverse("api-machines"))
