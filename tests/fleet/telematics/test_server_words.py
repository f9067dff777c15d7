"""A server's own words of refusal are shown, cut to a sentence and without a secret."""

import json

import pytest

from fleet.telematics.server_words import LONGEST, said_by


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"De sleutel is verlopen.", "De sleutel is verlopen."),
        (b'{"status": 429, "message": "Daily quota used up"}', "Daily quota used up"),
        (b'{"error": {"code": "E7", "message": "No contract"}}', "E7; No contract"),
        (b'{"errors": [{"detail": "Expired"}]}', "Expired"),
        (b'{"error": "invalid_client", "error_description": "abgelaufen"}', "invalid_client; abgelaufen"),
        (b"<Fault><Code>1207</Code><Reason>No contract</Reason></Fault>", "1207 No contract"),
        (b"<html><head><title>x</title></head><body>Votre session a expir&eacute;</body></html>", "expiré"),
        ("Schlüssel ungültig".encode("latin-1"), "Schlüssel ungültig"),
        (b"<html><script>alert(1)</script><p>Gone</p>", "Gone"),
    ],
)
def test_words_of_many_forms(body, words):
    assert words in said_by(body)
    assert "alert" not in said_by(body)


def test_nothing_is_said_where_nothing_was():
    for body in (b"", b"  ", b"{}", b'{"ok": true}', b"<html></html>"):
        assert said_by(body) == ""


def test_the_challenge_is_read_too():
    assert "The access token expired" in said_by(b"", 'Bearer error_description="The access token expired"')


def test_what_is_long_is_cut_and_a_secret_is_left_out():
    assert len(said_by(b"x" * 5000)) < LONGEST + 40
    said = said_by(json.dumps({"message": "gate-4711 is wrong"}).encode(), without="gate-4711")
    assert "gate-4711" not in said
    assert "… is wrong" in said
    assert "\x1b" not in said_by(b"a\x1b[31mb")
