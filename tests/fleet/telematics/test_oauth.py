"""OAuth 2.0's client credentials, against the examples of RFC 6749 (from memory) and a server of our own."""

import json

import pytest

from fixtures.telematics.server import TOKEN, Provider, as_xml
from fleet.core.errors import FleetError
from fleet.telematics import credentials, sources
from fleet.telematics import poll as telematics
from fleet.telematics.oauth import Client, body_of, headers_of
from fleet.telematics.sources import Source
from tests.fleet.telematics.conftest import NOW, unit

pytestmark = pytest.mark.django_db

ID, SECRET = "s6BhdRkqt3", "gX1fBat3bV"  # RFC 6749, 2.3.1


@pytest.fixture
def provider():
    with Provider(lambda: [unit()], client=(ID, SECRET)) as server:
        yield server


@pytest.fixture
def source(in_farm, machine, provider):
    """A source with a client's login at that server, due now."""
    facts = Source(
        name="Feed",
        url=provider.address,
        login="client",
        username=ID,
        secret=SECRET,
        token_url=f"{provider.origin}/token",
        scope="fleet read",
    )
    return sources.add(facts=facts, member=in_farm.manager)


@pytest.fixture
def refused(source, machine):
    """Read the source; give why it was refused, having seen that nothing came in."""

    def ask():
        assert not telematics.read(source=source, forced=True, now=NOW)
        source.refresh_from_db()
        assert machine.readings.count() == 0
        return source.error

    return ask


def answering(facts, status=200, **headers):
    body = facts if isinstance(facts, bytes) else json.dumps(facts).encode()
    return lambda handler: handler.answer(status, body, "application/json", **headers)


def test_the_request_of_the_rfc():
    client = Client("https://server.example.com/token", ID, SECRET)
    assert headers_of(client)["Authorization"] == "Basic czZCaGRSa3F0MzpnWDFmQmF0M2JW"  # 4.4.2
    assert headers_of(client)["Content-Type"] == "application/x-www-form-urlencoded"
    assert body_of(client) == b"grant_type=client_credentials"


def test_id_and_secret_are_written_as_a_form_writes_them():
    """RFC 6749, 2.3.1 and appendix B, whose example is ' %&+£€'."""
    client = Client("https://server.example.com/token", " %&+£€", "")
    basic = headers_of(client)["Authorization"].removeprefix("Basic ")
    assert basic == "KyUyNSUyNiUyQiVDMiVBMyVFMiU4MiVBQzo="  # base64 of the appendix's text and a colon


def test_a_token_is_asked_for_and_used(source, machine, provider):
    assert telematics.read(source=source, forced=True, now=NOW)
    assert machine.readings.count() == 1
    (token_path, basic), (page_path, bearer) = provider.seen
    assert (token_path, page_path) == ("/token", "/Fleet/1")
    assert (basic, bearer) == ("Basic czZCaGRSa3F0MzpnWDFmQmF0M2JW", f"Bearer {TOKEN}")
    assert provider.bodies == [b"grant_type=client_credentials&scope=fleet+read"]
    assert SECRET not in source.secret
    assert credentials.unlock(source.secret) == SECRET


def test_a_wrong_secret_is_told_and_waits_for_a_person(source, refused, provider):
    provider.client = "Basic other"
    assert refused() == (
        "The token address refuses: it doesn't know this client id and secret (invalid_client)."
    )
    assert (source.next_try_at - NOW).total_seconds() > 0.85 * 3600  # no sooner than usual


@pytest.mark.parametrize(
    ("answer", "why"),
    [
        (answering({"error": "invalid_scope"}, 400), "doesn't give this scope"),
        (answering({"error": "<b>odd</b>"}, 400), "refuses (400). Check client id and secret"),
        (answering(b"", 403), "refuses (403)"),
        (
            answering(b"", 302, Location="http://127.0.0.1:1/"),
            "redirects. Enter the address it redirects to.",
        ),
        (answering(b"", 500), "answered 500 instead of a token"),
        (answering(b"<html>"), "sent no access token"),
        (answering([TOKEN]), "sent no access token"),
        (answering({"token_type": "bearer"}), "sent no access token"),
        (answering({"access_token": 7, "token_type": "bearer"}), "sent no access token"),
        (answering({"access_token": "a\r\nX: y", "token_type": "bearer"}), "sent no access token"),
        (answering({"access_token": TOKEN, "token_type": "mac"}), "not bearer"),
        (answering({"access_token": TOKEN, "token_type": None}), "not bearer"),
        (answering(b'{"access_token": "' + b"x" * 100_000 + b'", "token_type": "bearer"}'), "sent no access"),
        (answering(b"[" * 50_000), "sent no access token"),
    ],
)
def test_what_is_no_token_is_refused(refused, provider, answer, why):
    provider.special["/token"] = answer
    assert why in refused()
    assert [path for path, _ in provider.seen] == ["/token"]


def test_a_token_address_inside_a_private_network_is_not_asked(source, refused, provider):
    source.token_url = provider.origin.replace("127.0.0.1", "127.0.0.2") + "/token"
    source.save()
    assert "only" in refused()
    assert provider.seen == []


class TestEntering:
    FACTS = {
        "name": "Feed of the maker",
        "url": "https://feed.example/Fleet/1",
        "login": "client",
        "username": ID,
        "secret": SECRET,
        "token_url": "https://login.example/token",
        "scope": "fleet",
    }

    @pytest.mark.parametrize(
        ("field", "facts"),
        [
            ("username", {"username": ""}),
            ("secret", {"secret": ""}),
            ("token_url", {"token_url": ""}),
            ("token_url", {"token_url": "ftp://login.example/token"}),
            ("token_url", {"token_url": "https://a:b@login.example/token"}),
            ("scope", {"scope": 'fleet "read"'}),
            ("scope", {"scope": "fleet  read"}),
        ],
    )
    def test_what_cant_be_is_told_at_its_field(self, in_farm, field, facts):
        with pytest.raises(FleetError) as error:
            sources.add(facts=Source(**(self.FACTS | facts)), member=in_farm.manager)
        assert error.value.field == field

    def test_a_client_id_may_hold_a_colon(self, in_farm):
        facts = Source(**(self.FACTS | {"username": "urn:alder:1"}))
        assert sources.add(facts=facts, member=in_farm.manager).username == "urn:alder:1"

    @pytest.mark.parametrize(
        "facts",
        [
            {"token_url": "https://elsewhere.example/token"},
            {"url": "https://elsewhere.example/Fleet/1"},
            {"username": "another"},
            {"login": "basic"},
        ],
    )
    def test_a_kept_secret_goes_to_no_other_server(self, in_farm, facts):
        source = sources.add(facts=Source(**self.FACTS), member=in_farm.manager)
        changed = Source(**(self.FACTS | {"secret": ""} | facts))
        with pytest.raises(FleetError, match="Enter the password again"):
            sources.change(source=source, facts=changed, member=in_farm.manager)
        other_path = Source(**(self.FACTS | {"secret": "", "token_url": "https://login.example/v2/token"}))
        assert sources.change(source=source, facts=other_path, member=in_farm.manager).secret == source.secret

    def test_another_login_forgets_where_tokens_are(self, in_farm):
        source = sources.add(facts=Source(**self.FACTS), member=in_farm.manager)
        bearer = Source(**(self.FACTS | {"login": "bearer", "secret": "abc"}))
        changed = sources.change(source=source, facts=bearer, member=in_farm.manager)
        assert (changed.username, changed.token_url, changed.scope) == ("", "", "")


def test_a_client_that_is_refused_by_header_is_sent_in_the_body(source, machine, provider):
    """RFC 6749, 2.3.1: a server may take either."""
    asked = []

    def by_body_alone(handler):
        asked.append((handler.headers.get("Authorization"), provider.bodies[-1]))
        if b"client_secret" not in provider.bodies[-1]:
            answering({"error": "invalid_client"}, 401)(handler)
        else:
            answering({"access_token": TOKEN})(handler)  # some leave out what kind it is

    provider.special["/token"] = by_body_alone
    assert telematics.read(source=source, forced=True, now=NOW)
    assert machine.readings.count() == 1
    (first, _), (second, body) = asked
    assert first.startswith("Basic ")
    assert second is None
    assert body.startswith(
        b"grant_type=client_credentials&scope=fleet+read&client_id=s6BhdRkqt3&client_secret="
    )


def test_the_words_of_the_token_address_are_shown_without_the_secret(refused, provider):
    told = {"error": "invalid_client", "error_description": f"{SECRET} ist seit gestern abgelaufen"}
    provider.special["/token"] = answering(told, 401)
    said = refused()
    assert "ist seit gestern abgelaufen" in said
    assert SECRET not in said


@pytest.mark.parametrize(("ends", "good"), [(1, True), (2, False)])
def test_a_token_that_ends_between_pages_is_fetched_again_once(source, machine, provider, ends, good):
    left = [ends]

    def second(handler):
        if left[0]:
            left[0] -= 1
            answering({"error": "invalid_token"}, 401)(handler)
        else:
            handler.answer(200, as_xml([], {}, "").encode())

    provider.special["/Fleet/1"] = lambda handler: handler.answer(
        200, as_xml([unit()], {"next": "/Fleet/2"}, "").encode()
    )
    provider.special["/Fleet/2"] = second
    assert telematics.read(source=source, forced=True, now=NOW) is good
    paths = [path for path, _ in provider.seen]
    assert paths == ["/token", "/Fleet/1", "/Fleet/2", "/token", "/Fleet/2"]
    assert machine.readings.count() == good
