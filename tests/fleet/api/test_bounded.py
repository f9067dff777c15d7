"""Bodies refused before they are read. Byte by byte over a line: tests/services/test_large_bodies.py."""

import pytest
from django.test import Client

from fleet.imports.limits import MOST_BYTES

FORM = "application/x-www-form-urlencoded"


class Unread:
    """A body that must not be touched."""

    def read(self, *size):
        raise AssertionError("it was read")

    readline = read


@pytest.mark.parametrize(
    "path", ["/sign-in/", "/readings/files/", "/nowhere/", "/api/v1/readings", "/api/nowhere"]
)
@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"CONTENT_LENGTH": 10**12}, 413),
        ({"CONTENT_LENGTH": 10**12, "HTTP_AUTHORIZATION": "Bearer made-up"}, 413),
        ({"HTTP_TRANSFER_ENCODING": "chunked"}, 411),
    ],
)
def test_nothing_is_read_of_what_is_too_large_or_has_no_length(db, path, headers, status):
    sent = {"wsgi.input": Unread(), "CONTENT_LENGTH": "", "CONTENT_TYPE": "multipart/form-data; boundary=x"}
    answer = Client(enforce_csrf_checks=True).post(path, **(sent | headers))
    assert answer.status_code == status
    kind = "application/problem+json" if path.startswith("/api/") else "text/html"
    assert answer["Content-Type"].startswith(kind)
    assert "private" in answer["Cache-Control"]
    assert b"25 MB" in answer.content or status == 411


def test_more_text_than_a_page_takes_is_told(farm):
    answer = farm.client("owner").post("/machines/new/", "tag=" + "x" * 3_000_000, content_type=FORM)
    assert answer.status_code == 413
    assert "Nothing was saved" in answer.content.decode()


def test_the_largest_file_that_is_read_fits_with_its_form(settings):
    assert settings.LARGEST_BODY >= MOST_BYTES + 1024 * 1024
