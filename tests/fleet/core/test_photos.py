"""A photo is kept as a picture: it tells neither where nor when nor with what it was taken."""

from io import BytesIO, StringIO
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from PIL import Image, ImageDraw, PngImagePlugin
from PIL.ExifTags import GPS, IFD, Base

from fleet.core.errors import FleetError
from fleet.core.photos import checked_photo
from fleet.models import ReadingPhoto
from fleet.readings import mobile_entry
from servicing.gate.faults import report_fault
from tests.factories import ReadingFactory

pytestmark = pytest.mark.security

KINDS = ["JPEG", "PNG", "WEBP"]
TELLS = [b"Orrin phone", b"on the yard", b"behind the picture", b"2026:05:03", b"51.5"]


def taken_at_home(kind="JPEG", turned=6):
    """A photo as a telephone makes it: red at the left, with place, day, maker, a comment, more behind it."""
    image = Image.new("RGB", (64, 48), "white")
    ImageDraw.Draw(image).rectangle((0, 0, 15, 47), fill="red")
    exif = Image.Exif()
    exif[Base.Make], exif[Base.DateTime], exif[Base.Orientation] = (
        "Orrin phone",
        "2026:05:03 09:00:00",
        turned,
    )
    exif.get_ifd(IFD.GPSInfo).update({GPS.GPSLatitudeRef: "N", GPS.GPSLatitude: (51.0, 30.0, 26.0)})
    more = {}
    if kind == "JPEG":
        more = {"comment": b"on the yard"}
    if kind == "PNG":
        text = PngImagePlugin.PngInfo()
        text.add_text("Comment", "on the yard")
        text.add_itxt("XML:com.adobe.xmp", "<x>51.5</x>")
        more = {"pnginfo": text}
    if kind == "WEBP":
        more = {"xmp": b"<x>51.5, on the yard</x>"}
    kept = BytesIO()
    image.save(kept, kind, exif=exif.tobytes(), **more)
    return kept.getvalue() + b"behind the picture"


def sent(content, name="IMG_0001.jpg"):
    return SimpleUploadedFile(name, content, "image/jpeg")


def assert_tells_nothing(content):
    assert [word for word in TELLS if word in content] == []
    with Image.open(BytesIO(content)) as image:
        image.load()
        assert dict(image.getexif().get_ifd(IFD.GPSInfo)) == {}
        assert set(image.getexif()) <= {Base.Orientation}
        assert not {"xmp", "comment", "Comment", "XML:com.adobe.xmp"} & image.info.keys()


@pytest.mark.parametrize("kind", KINDS)
def test_place_day_and_camera_are_left_out(kind):
    content = taken_at_home(kind)
    assert Image.open(BytesIO(content)).getexif().get_ifd(IFD.GPSInfo)  # it was there
    kept = checked_photo(sent(content))
    assert_tells_nothing(kept.read())
    assert kept.name == {"JPEG": "IMG_0001.jpg", "PNG": "IMG_0001.png", "WEBP": "IMG_0001.webp"}[kind]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("turned", [1, 3, 6, 8])
def test_how_it_is_turned_stays_and_so_does_what_is_seen(kind, turned):
    with Image.open(checked_photo(sent(taken_at_home(kind, turned)))) as kept:
        assert kept.getexif().get(Base.Orientation, 1) == turned
        assert kept.size == (64, 48)
        red, white = kept.convert("RGB").getpixel((5, 24)), kept.convert("RGB").getpixel((50, 24))
    assert red[0] > 230
    assert max(red[1:]) < 40
    assert min(white) > 235


def test_its_colours_stay():
    """A picture without its profile of colours would look otherwise."""
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    content = BytesIO()
    Image.new("RGB", (8, 8), "green").save(content, "JPEG", icc_profile=profile)
    with Image.open(checked_photo(sent(content.getvalue()))) as kept:
        assert kept.info["icc_profile"] == profile


def test_a_jpeg_with_more_pictures_behind_it_is_kept_as_one():
    first, second = Image.new("RGB", (32, 32), "grey"), Image.new("RGB", (32, 32), "red")
    content = BytesIO()
    first.save(content, "MPO", save_all=True, append_images=[second])
    kept = checked_photo(sent(content.getvalue()))
    with Image.open(kept) as image:
        assert (image.format, getattr(image, "n_frames", 1)) == ("JPEG", 1)


def test_a_photo_cut_off_on_its_way_is_refused():
    content = taken_at_home()[:700]
    with pytest.raises(FleetError, match="not a photo"):
        checked_photo(sent(content))


def test_a_photo_has_ten_megabytes_at_most():
    picture = taken_at_home()
    whole = picture.ljust(10 * 1024 * 1024, b"\0")
    assert checked_photo(sent(whole))
    with pytest.raises(FleetError, match=r"This photo has 10\.1 MB; at most 10 MB can be kept\."):
        checked_photo(sent(whole + b"\0"))


def test_sent_twice_it_is_kept_once(farm):
    with farm.scope():
        reading = ReadingFactory(machine=farm.machine())
        rows = {
            mobile_entry.add_photo(reading=reading, photo=sent(taken_at_home(kind)), member=farm.owner).pk
            for kind in KINDS
            for _ in range(2)
        }
        assert len(rows) == len(KINDS)


def test_each_way_in_keeps_it_bare(farm):
    """The photo of a meter, of a fault, and of the work (tests/servicing/web/steps/test_entries.py)."""
    with farm.scope():
        machine = farm.machine()
        reading = ReadingFactory(machine=machine)
        meter = mobile_entry.add_photo(reading=reading, photo=sent(taken_at_home()), member=farm.owner)
        fault = report_fault(
            machine=machine,
            text="Hose weeps",
            severity="soon",
            member=farm.owner,
            photo=sent(taken_at_home()),
        )
        for file in (meter.image, fault.photo):
            with file.open("rb") as kept:
                assert_tells_nothing(kept.read())


def test_photos_kept_before_lose_it_by_the_command(farm):
    with farm.scope():
        reading = ReadingFactory(machine=farm.machine())
        old = ReadingPhoto(organisation=farm.organisation, reading=reading)
        old.image.save("old.jpg", ContentFile(taken_at_home()), save=True)
        broken = ReadingPhoto(organisation=farm.organisation, reading=reading)
        broken.image.save("broken.jpg", ContentFile(b"no picture"), save=True)
    path = Path(old.image.path)
    out, err = StringIO(), StringIO()
    call_command("bare_photos", stdout=out, stderr=err)
    assert "Photos rewritten: 1. Not readable: 1." in out.getvalue()
    assert broken.image.name in err.getvalue()
    assert_tells_nothing(path.read_bytes())
    bare = path.read_bytes()
    again = StringIO()
    call_command("bare_photos", stdout=again, stderr=StringIO())
    assert "Photos rewritten: 0." in again.getvalue()
    assert path.read_bytes() == bare
