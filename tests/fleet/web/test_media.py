"""Photos go to members of the organisation they belong to, and nothing else goes to anybody."""

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.test import Client

PIXELS = b"\x89PNG\r\n\x1a\n and the rest"


@pytest.fixture
def photo(farm, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "media"
    (tmp_path / "secret.png").write_bytes(b"not yours")
    return default_storage.save(f"{farm.organisation.pk}/faults/ab12.png", ContentFile(PIXELS))


def test_a_member_sees_it(farm, photo):
    answer = farm.client("counter").get(f"/media/{photo}")
    assert b"".join(answer.streaming_content) == PIXELS
    assert answer["Content-Type"] == "image/png"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"] == "inline"
    assert "private" in answer["Cache-Control"]


def test_a_stranger_finds_nothing(farm, stranger, photo):
    assert stranger.client("owner").get(f"/media/{photo}").status_code == 404


def test_nobody_without_signing_in(photo):
    assert Client().get(f"/media/{photo}").status_code == 302


def test_it_is_only_read(farm, photo):
    assert farm.client("owner").post(f"/media/{photo}").status_code == 405


@pytest.mark.parametrize(
    "path",
    [
        "{theirs}/../{ours}/faults/ab12.png",
        "{theirs}/%2e%2e/{ours}/faults/ab12.png",
        "{theirs}/..%2f{ours}/faults/ab12.png",
        "{theirs}/..%5c{ours}%5cfaults%5cab12.png",
        "{theirs}/./../{ours}/faults/ab12.png",
        "{theirs}//../{ours}/faults/ab12.png",
        "{theirs}/../../secret.png",
        "/{ours}/faults/ab12.png",
        "../secret.png",
        "0{ours}/faults/ab12.png",
        "{ours}/faults/ab12.png",
    ],
)
def test_no_path_leads_out_of_ones_own_folder(farm, stranger, photo, path):
    default_storage.save(f"{stranger.organisation.pk}/faults/cd34.png", ContentFile(PIXELS))
    address = "/media/" + path.format(ours=farm.organisation.pk, theirs=stranger.organisation.pk)
    assert stranger.client("owner").get(address).status_code == 404


@pytest.mark.parametrize(
    "name", ["page.html", "drawing.svg", "notes.txt", "photo.png.html", ".png", ".hidden/a.png", "photo"]
)
def test_only_pictures(farm, settings, tmp_path, name):
    settings.MEDIA_ROOT = tmp_path
    file = tmp_path / str(farm.organisation.pk) / "faults" / name
    file.parent.mkdir(parents=True)
    file.write_bytes(PIXELS)
    assert farm.client("owner").get(f"/media/{farm.organisation.pk}/faults/{name}").status_code == 404


@pytest.mark.parametrize("name", ["missing.png", "folder.png", "a%00.png", "x" * 300 + ".png"])
def test_what_is_not_there_is_not_found(farm, settings, tmp_path, name):
    settings.MEDIA_ROOT = tmp_path
    (tmp_path / str(farm.organisation.pk) / "faults" / "folder.png").mkdir(parents=True)
    assert farm.client("owner").get(f"/media/{farm.organisation.pk}/faults/{name}").status_code == 404
