"""Photos of an order's lines over the API."""

from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from servicing import workorders
from servicing.models import WorkOrder
from tests.fresh_token import sent_twice_after_its_token_ended
from tests.servicing.api.order_bodies import NOW, URL

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def photo(colour="#775533"):
    file = BytesIO()
    Image.new("RGB", (8, 8), colour).save(file, "JPEG")
    return SimpleUploadedFile("IMG_0001.exe", file.getvalue(), "text/plain")


def test_a_photo_is_kept_once_with_its_line(farm, stranger, started, order):
    with farm.scope():
        line = started.lines.get()
    url = f"{URL}/{started.pk}/lines/{line.pk}/photos"
    client = farm.api("technician")
    first = client.post(url, {"photo": photo()}, format="multipart")
    assert first.status_code == 201
    assert first.json()["url"].endswith(".jpg")
    picture = farm.client("counter").get(first.json()["url"])
    assert b"".join(picture.streaming_content).startswith(b"\xff\xd8"), "a JPEG"
    assert client.post(url, {"photo": photo()}, format="multipart").json() == first.json()
    client.post(url, {"photo": photo("#123456")}, format="multipart")
    assert len(client.get(f"{URL}/{started.pk}").json()["lines"][0]["photos"]) == 2

    refused = client.post(url, {"photo": SimpleUploadedFile("a.jpg", b"no picture")}, format="multipart")
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, "#/photo")
    assert farm.api("counter").post(url, {"photo": photo()}, format="multipart").status_code == 403
    assert stranger.api("owner").post(url, {"photo": photo()}, format="multipart").status_code == 404
    other = f"{URL}/{started.pk}/lines/{line.pk + 1}/photos"
    assert client.post(other, {"photo": photo()}, format="multipart").status_code == 404


def test_a_cancelled_order_takes_no_photo(farm, started):
    with farm.scope():
        line = started.lines.get()
        workorders.cancel(order=started, member=farm.manager, revision=2, reason="sold")
    url = f"{URL}/{started.pk}/lines/{line.pk}/photos"
    answer = farm.api("technician").post(url, {"photo": photo()}, format="multipart")
    assert (answer.status_code, answer.json()["detail"]) == (409, "Order 1 is cancelled; it takes no photos.")


def test_an_order_that_changed_meanwhile_takes_the_photo_all_the_same(farm, started):
    """It is in nobody's way: no revision is sent with it, and none is counted."""
    with farm.scope():
        line = started.lines.get()
        before = WorkOrder.objects.get(pk=started.pk).revision
        workorders.assign(order=started, member=farm.manager, revision=before, technician=None)
    client, url = farm.api("technician"), f"{URL}/{started.pk}/lines/{line.pk}/photos"
    assert client.post(url, {"photo": photo()}, format="multipart").status_code == 201
    with farm.scope():
        assert WorkOrder.objects.get(pk=started.pk).revision == before + 1


def test_a_photo_whose_token_ended_goes_out_once_with_a_fresh_one(farm, started):
    with farm.scope():
        line = started.lines.get()

    def sent(client, token):
        address = f"{URL}/{started.pk}/lines/{line.pk}/photos"
        return client.post(address, {"photo": photo()}, headers={"x-csrftoken": token})

    answers = sent_twice_after_its_token_ended(farm.technician.user, sent)
    assert [answer.status_code for answer in answers] == [201, 201]
    assert answers[0].json() == answers[1].json()
    with farm.scope():
        assert line.photos.count() == 1
