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
def test_the_page_that_reads_the_apis_document_runs_no_script_of_its_own():
    answer = Client().get(reverse("api"))
    assert "default-src 'self'" in answer[HEADER]
    assert "script-src" not in answer[HEADER]
    assert b"<script>" not in answer.content


def test_what_is_no_page_has_none(farm):
    assert HEADER not in farm.api("owner").get(reverse("api-machines"))
