"""Errors are problem documents. Fields and media type: RFC 9457; phrases: RFC 9110, section 15."""

import json

import pytest
from django.test import Client
from rest_framework import serializers
from rest_framework.exceptions import Throttled
from rest_framework.test import APIClient, APIRequestFactory

from fleet import readings
from fleet.api import problems
from fleet.core.errors import FleetError, NotAllowed, Stale, WrongState
from tests.cast import bearer

# RFC 9110, 15.5 and 15.6
PHRASES = {
    400: "Bad Request",
    401: "Unauthorized",
    403: "Forbidden",
    404: "Not Found",
    405: "Method Not Allowed",
    406: "Not Acceptable",
    413: "Content Too Large",
    415: "Unsupported Media Type",
    422: "Unprocessable Content",
    429: "Too Many Requests",  # RFC 6585, section 4
    500: "Internal Server Error",
}


def check(answer, status):
    """Check against RFC 9457, section 3.1; with about:blank the title is the HTTP phrase (4.2.1)."""
    assert answer.status_code == status
    assert answer["Content-Type"] == "application/problem+json"
    body = json.loads(answer.content)
    assert body["status"] == status
    assert isinstance(body["detail"], str)
    assert body["detail"]
    if body["type"] == "about:blank":
        assert body["title"] == PHRASES[status]
    return body


@pytest.mark.parametrize("status", PHRASES)
def test_phrases(status):
    assert problems.problem(status, "why")["title"] == PHRASES[status]


def test_no_token_a_wrong_one_and_a_closed_route(farm):
    answer = APIClient().get("/api/v1/machines")
    check(answer, 401)
    assert answer["WWW-Authenticate"].startswith("Bearer")  # RFC 9110, 11.6.1
    check(bearer("hm_wrong").get("/api/v1/machines"), 401)
    check(farm.device().get("/api/v1/machines"), 403)


def test_unknown_addresses_under_api_alone(farm):
    for path in ("/api/v1/nothing", "/api/none", "/api/v1/machines/999999", "/api/v1/machines/"):
        check(farm.api("owner").get(path), 404)
    check(APIClient().get("/api/v1/nothing"), 404)
    assert Client().get("/no-such-page")["Content-Type"].startswith("text/html")


def test_method_media_type_and_accept(farm):
    client = farm.api("owner")
    answer = client.delete("/api/v1/machines/1")
    check(answer, 405)
    assert {"GET", "HEAD"} <= set(answer["Allow"].split(", "))  # RFC 9110, 15.5.6: must be sent
    assert "DELETE" not in answer["Allow"]
    check(client.post("/api/v1/readings", "machine=1", content_type="text/plain"), 415)
    check(client.get("/api/v1/machines", HTTP_ACCEPT="image/png"), 406)


def test_a_wrong_filter_names_its_parameter(farm):
    body = check(farm.api("owner").get("/api/v1/readings?state=lost&taken_after=soon"), 400)
    assert {error["parameter"] for error in body["errors"]} == {"state", "taken_after"}


def test_a_crash_is_a_problem_and_is_not_told(farm, monkeypatch):
    def crash(**kwargs):
        raise RuntimeError("the secret inside")

    client = farm.api("owner")
    client.raise_request_exception = False
    monkeypatch.setattr(readings, "take", crash)
    answer = client.post("/api/v1/readings", [])
    check(answer, 500)
    assert b"secret" not in answer.content


def test_a_session_without_its_csrf_token_is_refused(farm):
    client = Client(enforce_csrf_checks=True)
    client.force_login(farm.owner.user)
    assert client.get("/api/v1/machines").status_code == 200
    check(client.post("/api/v1/readings", "[]", content_type="application/json"), 403)


def answered(error, method="post"):
    request = getattr(APIRequestFactory(), method)("/api/v1/readings")
    return problems.handle(error, {"request": request, "view": None})


@pytest.mark.parametrize(
    ("error", "status", "kind"),
    [
        (FleetError("No.", field="note/a~b"), 422, "refused"),
        (NotAllowed("No."), 403, "not-allowed"),
        (Stale("No."), 409, "stale"),
        (WrongState("No."), 409, "wrong-state"),
    ],
)
def test_refusals_have_a_type_of_their_own(error, status, kind):
    response = answered(error)
    assert (response.status_code, response.data["status"]) == (status, status)
    assert (response.data["type"], response.data["detail"]) == (f"urn:hourmark:problem:{kind}", "No.")


def test_a_pointer_is_escaped():
    """RFC 6901, section 3: '~' is written ~0 and '/' is written ~1."""
    (error,) = answered(FleetError("No.", field="note/a~b")).data["errors"]
    assert error["pointer"] == "#/note~1a~0b"


def test_too_often_says_when_to_come_back():
    response = answered(Throttled(wait=17))
    assert (response.status_code, response.data["title"]) == (429, "Too Many Requests")
    assert response["Retry-After"] == "17"


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({}, "Missing. Give `severity`."),
        ({"severity": None}, "null is not allowed. Give `severity`."),
        ({"severity": ""}, "Empty. Give `severity`."),
    ],
)
def test_what_is_missing_says_what_to_give(sent, said):
    class Reported(serializers.Serializer):
        severity = serializers.CharField()

    reported = Reported(data=sent)
    with pytest.raises(serializers.ValidationError) as refused:
        reported.is_valid(raise_exception=True)
    body = answered(refused.value).data
    assert body["errors"] == [{"detail": said, "pointer": "#/severity"}]
