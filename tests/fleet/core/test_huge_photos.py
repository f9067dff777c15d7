"""Photos that are small as files and huge as pictures, or none at all: refused before a pixel is unpacked."""

import io
import struct
import zlib

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from fleet.core import photos
from fleet.core.errors import FleetError
from fleet.core.photos import checked_photo

pytestmark = pytest.mark.security


def chunk(kind, data):
    return struct.pack(">L", len(data)) + kind + data + struct.pack(">L", zlib.crc32(kind + data))


def png(width, height, *more):
    """A picture in PNG's words alone (RFC 2083), without its pixels."""
    head = struct.pack(">LLBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        [chunk(b"IHDR", head), *more, chunk(b"IDAT", b""), chunk(b"IEND", b"")]
    )


def picture():
    file = io.BytesIO()
    Image.new("RGB", (40, 30)).save(file, "JPEG")
    return file.getvalue()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (png(10_001, 8_000), "more than 52 million pixels"),
        (png(13_000, 13_000), "more than 52 million pixels"),
        (png(60_000, 60_000), "more than 52 million pixels"),
        (png(2**31 - 1, 2**31 - 1), "more than 52 million pixels"),
        (png(0, 0), "not a photo"),
        (
            png(10, 10, *[chunk(b"zTXt", b"a\0\0" + zlib.compress(b" " * 2**21))] * 60),
            "not a photo",
        ),
        (picture()[:20], "not a photo"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a photo"),
        (b"", "not a photo"),
    ],
    ids=["a little", "warned of", "a bomb", "beyond", "nothing", "its words", "half", "a drawing", "empty"],
)
def test_it_is_refused_with_a_sentence(data, said):
    with pytest.raises(FleetError, match=said) as error:
        checked_photo(SimpleUploadedFile("hose.png", data))
    assert error.value.field == "photo"


def test_a_photo_at_the_limit_is_kept_and_named_after_what_it_is(monkeypatch):
    monkeypatch.setattr(photos, "MOST_PIXELS", 40 * 30)
    assert checked_photo(SimpleUploadedFile("a.gif", picture())).name == "a.jpg"
    monkeypatch.setattr(photos, "MOST_PIXELS", 40 * 30 - 1)
    with pytest.raises(FleetError, match="pixels"):
        checked_photo(SimpleUploadedFile("a.jpg", picture()))
