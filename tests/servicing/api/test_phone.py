"""The way in for a phone's entries, with a browser's own sign-in."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from fleet.models import Machine, Reading, ReadingPhoto
from tests.fresh_token import sent_twice_after_its_token_ended

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
ENTRIES = "/api/v1/phone/entries"
pytestmark = pytest.mark.time_machine(NOW, tick=False)


@pytest.fixture
def tractor(farm):
    with farm.scope():
        return farm.machine(tag="T-07", in_service_on=NOW.date())


def entry(member, at, **other):
    return {
        "member": member.pk,
        "machine": at.pk,
        "code": at.code,
        "read_seconds_ago": 7200,
        "meter": "12.5",
        "client_id": "e1",
        "note": "",
        **other,
    }


def send(client, body):
    return client.post(ENTRIES, body, content_type="application/json")


def kept(farm):
    with farm.scope():
        return list(Reading.objects.filter(source="phone"))


def test_an_entry_that_waited_is_counted_at_the_time_it_was_read(farm, tractor):
    client = farm.client("technician")
    answer = send(client, entry(farm.technician, tractor))
    (reading,) = kept(farm)
    assert answer.json() == {
        "outcome": "counted",
        "state": "counted",
        "reason": "",
        "reading": reading.pk,
        "meter": "12.50",
        "page": f"/readings/{reading.pk}/",
    }
    assert reading.taken_at == NOW - timedelta(hours=2)
    again = send(client, entry(farm.technician, tractor, read_seconds_ago=7260))
    assert (again.json()["outcome"], again.json()["state"]) == ("duplicate", "counted")
    assert kept(farm) == [reading]


def test_what_is_held_is_told_with_its_reason(farm, tractor):
    client = farm.client("technician")
    send(client, entry(farm.technician, tractor))
    answer = send(client, entry(farm.technician, tractor, meter="1250", client_id="e2", read_seconds_ago=60))
    assert answer.json()["outcome"] == "held"
    assert "12.5" in answer.json()["reason"]


def test_nobody_sends_anothers_entry(farm, tractor):
    answer = send(farm.client("counter"), entry(farm.technician, tractor))
    assert answer.status_code == 409
    assert kept(farm) == []


def test_signed_out_is_told_from_a_token_that_ended(farm, tractor):
    assert send(Client(), entry(farm.technician, tractor)).status_code == 401
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(farm.technician.user)
    refused = send(strict, entry(farm.technician, tractor))
    assert (refused.status_code, "CSRF" in refused.json()["detail"]) == (403, True)
    told = strict.get("/api/v1/phone")  # which brings a fresh token along
    assert told.json()["member"] == farm.technician.pk
    token = told.cookies["csrftoken"].value
    answer = strict.post(
        ENTRIES,
        entry(farm.technician, tractor),
        content_type="application/json",
        headers={"x-csrftoken": token},
    )
    assert (answer.status_code, len(kept(farm))) == (200, 1)


def test_an_entry_may_wait_for_a_line_a_whole_year(farm, tractor):
    with farm.scope():
        Machine.objects.filter(pk=tractor.pk).update(in_service_on=NOW.date() - timedelta(days=400))
    answer = send(farm.client("technician"), entry(farm.technician, tractor, read_seconds_ago=366 * 86400))
    assert answer.status_code == 200
    (reading,) = kept(farm)
    assert reading.taken_at == NOW - timedelta(days=366)


@pytest.mark.parametrize(
    ("wrong", "status"),
    [
        ({"meter": ""}, 400),
        ({"meter": "abc"}, 422),
        ({"read_seconds_ago": -1}, 400),
        ({"read_seconds_ago": 366 * 86400 + 1}, 400),
        ({"client_id": ""}, 400),
        ({"machine": 0}, 422),
        ({"machine": None, "code": "00000000"}, 422),
        ({"machine": None, "code": ""}, 422),
        ({"note": "a" * 2001}, 400),
        ({"note": "\0"}, 400),
    ],
)
def test_what_cant_be_kept_is_a_problem_that_says_why(farm, tractor, wrong, status):
    answer = send(farm.client("technician"), entry(farm.technician, tractor, **wrong))
    assert (answer.status_code, answer["Content-Type"]) == (status, "application/problem+json")
    assert answer.json()["detail"]
    assert kept(farm) == []


def test_an_entry_that_waited_while_this_version_came_says_its_hours_as_before(farm, tractor):
    client = farm.client("technician")
    body = entry(farm.technician, tractor)
    both = send(client, body | {"shows": "12.5"})
    assert (both.status_code, both.json()["errors"][0]["pointer"]) == (400, "#/shows")
    body["shows"] = body.pop("meter")
    answer = send(client, body)
    assert (answer.status_code, answer.json()["meter"]) == (200, "12.50")
    assert "shows" not in answer.json()
    wrong = send(client, body | {"shows": "abc", "client_id": "e2"})
    assert (wrong.status_code, wrong.json()["errors"][0]["pointer"]) == (422, "#/meter")


def test_the_machines_to_keep(farm, stranger, tractor):
    with stranger.scope():
        stranger.machine()
    answer = farm.client("counter").get("/api/v1/phone")
    assert answer["Cache-Control"] == "private, no-store"
    told = answer.json()
    assert (told["member"], told["name"]) == (farm.counter.pk, str(farm.counter))
    (card,) = told["machines"]
    assert (card["machine"], card["code"], card["tag"]) == (tractor.pk, tractor.code, "T-07")
    assert (card["meter"], card["last"]) == (None, "Not read yet.")
    client = farm.client("counter")
    for code, found in ((tractor.code.lower(), [card]), ("0", [])):
        assert client.get("/api/v1/phone", {"code": code}).json()["machines"] == found


def test_a_photo_follows_its_reading(farm, stranger, tractor, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    picture = BytesIO()
    Image.new("RGB", (8, 8), "grey").save(picture, "PNG")
    client = farm.client("technician")
    reading = send(client, entry(farm.technician, tractor)).json()["reading"]
    address = f"/api/v1/phone/readings/{reading}/photos"
    answers = [
        client.post(address, {"photo": SimpleUploadedFile("meter.jpg", picture.getvalue())}) for _ in range(2)
    ]
    assert [answer.status_code for answer in answers] == [201, 201]
    assert answers[0].json() == answers[1].json()
    shown = client.get(answers[0].json()["url"])
    assert b"".join(shown.streaming_content) == picture.getvalue()
    assert client.post(address, {"photo": SimpleUploadedFile("meter.jpg", b"no")}).status_code == 422
    other = stranger.client("owner")
    assert other.post(address, {"photo": SimpleUploadedFile("m.jpg", picture.getvalue())}).status_code == 404


def test_a_photo_waits_for_who_took_it(farm, stranger, tractor, settings, tmp_path):
    """The hours went out, then the phone went to somebody else: of this organisation, or of another."""
    settings.MEDIA_ROOT = tmp_path
    reading = send(farm.client("technician"), entry(farm.technician, tractor)).json()["reading"]

    def sent(client, **other):
        picture = BytesIO()
        Image.new("RGB", (8, 8), "grey").save(picture, "PNG")
        photo = SimpleUploadedFile("meter.jpg", picture.getvalue())
        return client.post(f"/api/v1/phone/readings/{reading}/photos", {"photo": photo, **other})

    for house, role in ((farm, "counter"), (stranger, "owner")):
        refused = sent(house.client(role), member=farm.technician.pk)
        assert (refused.status_code, "somebody else" in refused.json()["detail"]) == (409, True)
    with farm.scope():
        assert not ReadingPhoto.objects.exists()
    assert sent(farm.client("technician"), member=farm.technician.pk).status_code == 201
    with farm.scope():
        assert ReadingPhoto.objects.get().taken_by == farm.technician


def test_a_photo_whose_token_ended_goes_out_once_with_a_fresh_one(farm, tractor, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    reading = send(farm.client("technician"), entry(farm.technician, tractor)).json()["reading"]
    picture = BytesIO()
    Image.new("RGB", (8, 8), "grey").save(picture, "PNG")

    def sent(client, token):
        photo = SimpleUploadedFile("meter.jpg", picture.getvalue())
        address = f"/api/v1/phone/readings/{reading}/photos"
        return client.post(address, {"photo": photo}, headers={"x-csrftoken": token})

    answers = sent_twice_after_its_token_ended(farm.technician.user, sent)
    assert [answer.status_code for answer in answers] == [201, 201]
    assert answers[0].json() == answers[1].json()
    with farm.scope():
        assert ReadingPhoto.objects.count() == 1


def test_ten_thousandths_are_rounded_like_everywhere(farm, tractor):
    send(farm.client("technician"), entry(farm.technician, tractor, meter="12.345"))
    assert kept(farm)[0].shows == Decimal("12.35")
