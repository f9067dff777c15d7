"""Two phones that find the line at the same moment, each on a connection of its own to a real PostgreSQL."""

from datetime import UTC, datetime, timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from fleet.models import Reading, ReadingPhoto
from fleet.readings import mobile_entry
from tests.at_once import at_once

pytestmark = [
    pytest.mark.service,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("several_writers"),
]
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
PHONES = 6


@pytest.fixture
def tractor(farm):
    return farm.machine()


def entry(farm, tractor, number, client_id):
    return lambda: mobile_entry.enter(
        member=farm.technician,
        machine=tractor.pk,
        taken_at=NOON + timedelta(seconds=number),
        shows="100.5",
        client_id=client_id,
    )


@pytest.mark.parametrize("one_phone", [True, False], ids=["one phone", "several phones"])
def test_one_look_is_counted_once(farm, tractor, one_phone):
    ids = ["e1"] * PHONES if one_phone else [f"e{number}" for number in range(PHONES)]
    receipts = at_once(*(entry(farm, tractor, number, each) for number, each in enumerate(ids)))
    assert sorted(receipt.state for receipt in receipts) == ["counted"] + ["duplicate"] * (PHONES - 1)
    assert len({receipt.reading.pk for receipt in receipts}) == 1
    with farm.scope():
        assert Reading.objects.filter(machine=tractor).count() == 1


def test_a_photo_sent_at_once_from_page_and_worker_is_kept_once(farm, tractor, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    kept = BytesIO()
    Image.new("RGB", (8, 8), "grey").save(kept, "PNG")
    reading = entry(farm, tractor, 0, "e1")().reading

    def photo():
        sent = SimpleUploadedFile("meter.png", kept.getvalue(), "image/png")
        return mobile_entry.add_photo(reading=reading, photo=sent, member=farm.technician)

    photos = at_once(*[photo] * PHONES)
    assert len({each.pk for each in photos}) == 1
    with farm.scope():
        assert ReadingPhoto.objects.count() == 1
    assert len(list(tmp_path.rglob("*.png"))) == 1
