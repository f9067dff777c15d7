"""Hours as phones send them: late, twice, by two people, with a photo that comes after."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from io import BytesIO
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from fleet import readings
from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.machines import register
from fleet.models import Reading, ReadingPhoto
from fleet.readings import decisions, mobile_entry
from tests.factories import MachineTypeFactory

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
pytestmark = pytest.mark.time_machine(NOW, tick=False)


@pytest.fixture
def tractor(in_farm):
    machine = in_farm.machine(tag="T-07")
    taken = readings.Submitted(machine.pk, NOW - timedelta(days=10), Decimal(1000))
    readings.take(
        organisation=in_farm.organisation, rows=[taken], source="page", sender="page", member=in_farm.manager
    )
    machine.refresh_from_db()
    return machine


def enter(member, at, shows="1010.5", **other):
    given = {"taken_at": NOW, "shows": shows, "client_id": uuid4().hex, "machine": at.pk, **other}
    return mobile_entry.enter(member=member, **given)


def picture(colour="grey"):
    kept = BytesIO()
    Image.new("RGB", (8, 8), colour).save(kept, "PNG")
    return SimpleUploadedFile("meter.png", kept.getvalue(), "image/png")


def count():
    return Reading.objects.filter(source="phone").count()


def test_hours_are_counted_and_told_by_whom(in_farm, tractor):
    receipt = enter(in_farm.technician, tractor, note="Dusty.")
    assert (receipt.state, receipt.reading.state) == ("counted", "counted")
    kept = Reading.objects.get(pk=receipt.reading.pk)
    assert (kept.taken_by, kept.source, kept.note) == (in_farm.technician, "phone", "Dusty.")
    tractor.refresh_from_db()
    assert tractor.hours == Decimal("1010.5")


def test_one_phone_that_sends_twice_counts_once(in_farm, tractor):
    first = enter(in_farm.technician, tractor, client_id="e1")
    again = enter(in_farm.technician, tractor, client_id="e1", taken_at=NOW - timedelta(minutes=20))
    assert (again.state, again.reading.pk) == ("duplicate", first.reading.pk)
    assert count() == 1


def test_two_phones_that_saw_one_figure_count_once(in_farm, tractor):
    first = enter(in_farm.technician, tractor)
    again = enter(in_farm.counter, tractor, taken_at=NOW - timedelta(minutes=5), shows="1010.50")
    assert (again.state, again.reading.pk) == ("duplicate", first.reading.pk)
    assert count() == 1
    assert enter(in_farm.counter, tractor, taken_at=NOW - timedelta(minutes=5, seconds=1)).state == "counted"
    assert enter(in_farm.counter, tractor, shows="1010.6").state == "counted"
    assert count() == 3


def test_what_was_discarded_can_be_read_again(in_farm, tractor):
    first = enter(in_farm.technician, tractor)
    decisions.discard(reading=first.reading, member=in_farm.manager, note="Wrong machine.")
    again = enter(in_farm.technician, tractor, taken_at=NOW - timedelta(minutes=1))
    assert (again.state, count()) == ("counted", 2)


def test_what_cant_be_true_is_held_and_a_second_look_says_so_too(in_farm, tractor):
    receipt = enter(in_farm.technician, tractor, shows="10105")
    assert receipt.state == "held"
    again = enter(in_farm.counter, tractor, shows="10105")
    assert (again.state, again.reading.state, count()) == ("duplicate", "held", 1)


def test_a_phone_that_knows_the_code_alone(in_farm, tractor):
    typed = f"{tractor.code[:4]}-{tractor.code[4:]}".lower()
    receipt = enter(in_farm.technician, tractor, machine=None, code=typed)
    assert receipt.reading.machine_id == tractor.pk


def test_a_renewed_code_leads_nowhere_and_what_waited_still_arrives(in_farm, tractor):
    old = tractor.code
    renewed = register.renew_code(machine=tractor, member=in_farm.manager)
    assert renewed.code != old
    with pytest.raises(FleetError, match="may be out of date") as refused:
        enter(in_farm.technician, tractor, machine=None, code=old)
    assert refused.value.field == "code"
    assert enter(in_farm.technician, tractor, code=old).state == "counted"
    with pytest.raises(NotAllowed):
        register.renew_code(machine=tractor, member=in_farm.technician)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"shows": "abc"}, "shows"),
        ({"shows": "-1"}, "shows"),
        ({"taken_at": "yesterday"}, "taken_at"),
        ({"machine": 987654321}, "machine"),
        ({"machine": 2**70}, "machine"),
        ({"machine": None, "code": ""}, "code"),
    ],
)
def test_what_cant_be_kept_is_refused_with_its_place(in_farm, tractor, given, field):
    with pytest.raises(FleetError) as refused:
        enter(in_farm.technician, tractor, **given)
    assert refused.value.field == field
    assert count() == 0


def test_an_attachment_has_no_meter(in_farm):
    kind = MachineTypeFactory(organisation=in_farm.organisation, category="attachment")
    loader = in_farm.attachment(type=kind)
    with pytest.raises(FleetError, match="has no meter"):
        enter(in_farm.technician, loader)


def test_a_strangers_machine_is_unknown_by_id_and_by_code(in_farm, stranger):
    with stranger.scope():
        theirs = stranger.machine()
    for given in ({}, {"machine": None, "code": theirs.code}):
        with pytest.raises(FleetError):
            enter(in_farm.technician, theirs, **given)


def test_a_photo_is_kept_once(in_farm, tractor, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    reading = enter(in_farm.technician, tractor).reading
    first = mobile_entry.add_photo(reading=reading, photo=picture(), member=in_farm.technician)
    again = mobile_entry.add_photo(reading=reading, photo=picture(), member=in_farm.technician)
    other = mobile_entry.add_photo(reading=reading, photo=picture("white"), member=in_farm.counter)
    assert (first.pk, ReadingPhoto.objects.count()) == (again.pk, 2)
    assert first.image.name.startswith(f"{in_farm.organisation.pk}/readings/")
    assert other.taken_by == in_farm.counter
    assert len(list(tmp_path.rglob("*.png"))) == 2


def test_what_is_no_photo_is_refused_and_the_reading_stays(in_farm, stranger, tractor):
    reading = enter(in_farm.technician, tractor).reading
    with pytest.raises(FleetError, match="not a photo"):
        mobile_entry.add_photo(
            reading=reading, photo=SimpleUploadedFile("meter.png", b"no"), member=in_farm.technician
        )
    with pytest.raises(NotAllowed):
        mobile_entry.add_photo(reading=reading, photo=picture(), member=stranger.owner)
    assert (count(), ReadingPhoto.objects.count()) == (1, 0)


def test_nobody_speaks_for_another(in_farm):
    mobile_entry.speaks_for(member=in_farm.counter, entered_by=in_farm.counter.pk)
    with pytest.raises(WrongState, match="somebody else"):
        mobile_entry.speaks_for(member=in_farm.counter, entered_by=in_farm.technician.pk)
