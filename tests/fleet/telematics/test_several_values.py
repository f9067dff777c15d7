"""Several values of what a unit has one of are never chosen from; packed answers are unpacked."""

import gzip

import pytest

from fleet.telematics.detect_format import Document
from fleet.telematics.limits import USUAL, Limits
from fleet.telematics.server_words import said_by
from fleet.telematics.snapshot import SnapshotRefused

FLEET = (
    b'<Fleet xmlns="http://standards.iso.org/iso/15143/-3"><Equipment><EquipmentHeader SerialNumber="A-11">'
    b"<SerialNumber>B-22</SerialNumber><PIN>n/a</PIN><PIN>P-33</PIN></EquipmentHeader></Equipment></Fleet>"
)


def page(data, limits=USUAL, step=7):
    document = Document(limits, 10)
    for start in range(0, len(data), step):
        document.feed(data[start : start + step])
    return document.finish()


@pytest.mark.parametrize(
    "data", [FLEET, gzip.compress(FLEET), gzip.compress(FLEET[:80]) + gzip.compress(FLEET[80:])]
)
def test_an_attribute_and_an_element_stand_side_by_side(data):
    (unit,) = page(data).units
    assert (unit.serial, unit.pin) == ("A-11 ≠ B-22", "P-33")


def test_a_packed_page_is_cut_off_and_half_of_one_refused():
    with pytest.raises(SnapshotRefused, match="larger than"):
        page(
            gzip.compress(b"<Fleet>" + b"<a/>" + b"<!-- -->" * 300_000), Limits(page_bytes=1024**2), step=4096
        )
    with pytest.raises(SnapshotRefused, match="Only part"):
        page(gzip.compress(FLEET)[:-9])


def test_nobody_is_shown_bytes_that_are_no_text():
    assert said_by(gzip.compress(FLEET)) == ""
