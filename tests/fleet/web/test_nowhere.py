"""Pages that can't be shown: why, in words, and one way on that works for whoever sees them."""

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories import UserFactory

pytestmark = pytest.mark.django_db
TODAY, SIGN_IN, ADMIN = 'href="/"', 'href="/sign-in/"', 'href="/admin/"'


def body(answer):
    """The page under its masthead, which has links of its own."""
    return answer.content.decode().split("<main", 1)[1]


@pytest.fixture
def strict():
    return Client(enforce_csrf_checks=True)


def signed_in(user):
    client = Client()
    client.force_login(user)
    return client


def test_an_operator_without_an_organisation_is_led_to_administration():
    operator = signed_in(UserFactory(is_staff=True, is_superuser=True))
    for path, status in (("/", 403), ("/nowhere/", 404)):
        answer = operator.get(path)
        assert answer.status_code == status
        page = body(answer)
        assert ADMIN in page
        assert TODAY not in page
    assert "Operators work in Administration." in body(operator.get("/"))
    assert operator.get("/admin/").status_code == 200


def test_who_is_in_no_organisation_may_sign_out():
    somebody = signed_in(UserFactory())
    answer = somebody.get("/")
    assert answer.status_code == 403
    page = body(answer)
    assert "Your account is in no organisation" in page
    assert "Ask an owner to add you under People" in page
    assert 'action="/sign-out/"' in page
    assert somebody.post("/sign-out/").status_code == 302


def test_a_member_is_told_whom_to_ask(farm):
    answer = farm.client("technician").get(reverse("people"))
    assert answer.status_code == 403
    page = body(answer)
    assert "Your role can't do this" in page
    assert "Ask an owner or manager" in page
    assert TODAY in page


def test_nothing_there_leads_a_member_to_today_and_others_to_the_sign_in(farm):
    assert TODAY in body(farm.client("owner").get("/nowhere/"))
    page = body(Client().get("/nowhere/"))
    assert SIGN_IN in page
    assert TODAY not in page


def test_a_form_without_a_cookie_on_a_plain_line_asks_for_https(strict, settings):
    settings.CSRF_COOKIE_SECURE, settings.SITE_URL = True, "https://hourmark.example.org"
    answer = strict.post("/sign-in/", {"username": "orla"})
    assert answer.status_code == 403
    page = body(answer)
    assert "Your browser sent no cookie. Open the site with https://, then try again." in page
    assert 'href="https://hourmark.example.org"' in page


@pytest.mark.parametrize("secure", [True, False])
def test_a_form_without_a_cookie_elsewhere_asks_for_cookies(strict, settings, secure):
    settings.CSRF_COOKIE_SECURE = secure
    answer = strict.post(
        "/sign-in/", {"username": "orla"}, secure=secure, headers={"Referer": "https://testserver/sign-in/"}
    )
    page = body(answer)
    assert "Your browser sent no cookie. Allow cookies for this site" in page
    assert "https://, then" not in page
    assert SIGN_IN in page


def test_a_form_whose_token_is_another_is_out_of_date(strict):
    strict.get("/sign-in/")
    for token in ({}, {"csrfmiddlewaretoken": "x" * 64}):
        page = body(strict.post("/sign-in/", {"username": "orla", **token}))
        assert "This page is out of date" in page
        assert "cookie" not in page


def test_a_form_from_another_site_names_the_right_address(strict, settings):
    settings.SITE_URL = "https://hourmark.example.org"
    strict.get("/sign-in/")
    page = body(strict.post("/sign-in/", {}, headers={"Origin": "https://elsewhere.example"}))
    assert "an address we don&#x27;t know" in page
    assert 'href="https://hourmark.example.org"' in page
    assert "HOURMARK_TRUSTED_ORIGINS" in page
    assert "elsewhere.example" not in page


def test_a_form_that_does_not_say_where_it_came_from_asks_for_that(strict):
    strict.get("/sign-in/", secure=True)
    page = body(strict.post("/sign-in/", {}, secure=True))
    assert "Let it send the referrer" in page
