"""Photos on a full disk: refused in words, and no half of one stays behind."""

import resource
import sys
from contextlib import contextmanager
from io import BytesIO

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from fleet.core.errors import NoRoom
from tests.factories import LineFactory, WorkOrderFactory

LARGEST = 20_000


@contextmanager
def full():
    """The kernel refuses this process more than 20 kB a file, as a full disk refuses more than it has.

    A module compiled meanwhile would be left cut off for whoever imports it next, so none is kept.
    """
    keeps_none, sys.dont_write_bytecode = sys.dont_write_bytecode, True
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (LARGEST, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        sys.dont_write_bytecode = keeps_none


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "media"
    return settings.MEDIA_ROOT


def test_no_half_of_a_file_stays(media):
    with full(), pytest.raises(NoRoom, match="no room to keep the photo") as refused:
        default_storage.save("1/faults/a.jpg", ContentFile(b"x" * (LARGEST + 1)))
    assert refused.value.field == "photo"
    assert [each for each in media.rglob("*") if each.is_file()] == []


def test_what_fits_is_kept(media):
    with full():
        default_storage.save("1/faults/a.jpg", ContentFile(b"x" * LARGEST))
    assert (media / "1/faults/a.jpg").stat().st_size == LARGEST


def test_over_the_api_it_can_be_sent_again_later(farm):
    with farm.scope():
        line = LineFactory(order=WorkOrderFactory(machine__organisation=farm.organisation, state="started"))
    picture = BytesIO()
    Image.effect_noise((300, 300), 90).convert("RGB").save(picture, "PNG")
    address = f"/api/v1/orders/{line.order_id}/lines/{line.pk}/photos"
    photo = SimpleUploadedFile("meter.png", picture.getvalue())
    with full():
        answer = farm.api("technician").post(address, {"photo": photo}, format="multipart")
    assert (answer.status_code, answer.json()["type"]) == (507, "urn:hourmark:problem:no-room")
    assert answer.json()["errors"][0]["pointer"] == "#/photo"
    photo.seek(0)
    assert farm.api("technician").post(address, {"photo": photo}, format="multipart").status_code == 201
