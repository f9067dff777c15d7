"""Documents as makers publish them, and as nobody should send them.

`sample.xml` is our own: its structure is what makers' developer pages show of ISO/TS 15143-3, its data are
invented. The traps are those of one maker's published feed sample.
"""

import json
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from fleet.readings.submission import Unreadable
from fleet.telematics.detect_format import Document
from fleet.telematics.limits import USUAL
from fleet.telematics.snapshot import SnapshotRefused, Timed
from fleet.telematics.values import hours_of

SAMPLE = (Path(__file__).parent / "sample.xml").read_bytes()
ISO = "http://standards.iso.org/iso/15143/-3"


def read(body, *, block=7, limits=USUAL, room=1000):
    document = Document(limits, room)
    for start in range(0, len(body), block):
        document.feed(body[start : start + block])
    return document.finish()


def fleet(inside, namespace=ISO, before=""):
    return f'{before}<Fleet xmlns="{namespace}" version="1">{inside}</Fleet>'.encode()


def equipment(sections, header="<SerialNumber>K-1</SerialNumber>"):
    return f"<Equipment><EquipmentHeader>{header}</EquipmentHeader>{sections}</Equipment>"


@pytest.mark.parametrize("block", [1, 7, 100_000])
def test_the_sample(block):
    page = read(SAMPLE, block=block)
    assert page.links == {"self": "/Fleet/1", "next": "/Fleet/2", "last": "/Fleet/2"}
    first, second, third = page.units
    assert (first.equipment_id, first.serial, first.pin) == ("YARD-07", "T100-000123", "1XMT100XABC000123")
    assert (first.maker, first.model) == ("EXAMPLE OEM", "T100")
    assert first.hours == Timed("1004.25", "2026-03-02T05:41:00Z")  # not the idle hours, not the place's time
    assert first.latitude == Timed("41.661100", "2026-03-02T05:58:10Z")
    assert first.longitude == Timed("-93.744200", "2026-03-02T05:58:10Z")
    assert first.fuel_percent == Timed("62", "2026-03-02T05:41:00Z")
    assert (first.fuel_used, first.fuel_units) == (Timed("9120", "2026-03-02T05:41:00Z"), "litre")
    assert (second.equipment_id, second.hours) == ("YARD-08", None)
    assert (third.equipment_id, third.hours) == ("YARD-09", Timed("233.70", "2026-03-01T17:08:34Z"))


def test_the_same_in_json_with_capitals_or_without():
    document = {
        "SnapshotTime": "2026-03-02T06:00:00Z",
        "Links": [{"Rel": "Next", "Href": "/Fleet/2"}],
        "Equipment": [
            {
                "EquipmentHeader": {"OEMName": "EXAMPLE OEM", "SerialNumber": "K-1", "PIN": None},
                "CumulativeOperatingHours": {"Hour": 1004.25, "Datetime": "2026-03-02T05:41:00Z"},
                "CumulativeIdleHours": {"Hour": 1, "Datetime": "2026-03-02T05:41:00Z"},
                "Codes": [1, 2],
            }
        ],
    }
    for text in (json.dumps(document), json.dumps(document).lower().replace("k-1", "K-1")):
        page = read(text.encode())
        assert page.links == {"next": "/fleet/2"} or page.links == {"next": "/Fleet/2"}
        (unit,) = page.units
        assert (unit.serial, unit.pin) == ("K-1", "")
        assert unit.hours.value == "1004.25"


@pytest.mark.parametrize("namespace", [ISO, "http://www.jcmanet.or.jp/english2017/ISO/15143/-3/20190501"])
def test_both_namespaces_of_the_standard(namespace):
    assert len(read(fleet(equipment(""), namespace)).units) == 1


def test_the_forerunner_names_the_maker_otherwise_and_writes_durations():
    """AEMP 1.2, whose published sample has PT13H28M30S for 13.475 h."""
    body = equipment(
        '<CumulativeOperatingHours datetime="2026-03-02T05:41:00Z"><Hour>PT13H28M30S</Hour>'
        "</CumulativeOperatingHours>",
        "<Make>EXAMPLE OEM</Make><SerialNumber>K-1</SerialNumber>",
    )
    (unit,) = read(fleet(body, "http://schemas.aemp.org/fleet")).units
    assert (unit.maker, unit.hours.value) == ("EXAMPLE OEM", "PT13H28M30S")


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("PT13H28M30S", "13.48"),  # 13.475 h, kept to a hundredth
        ("P1DT2H", "26.00"),
        ("PT1004H15M", "1004.25"),
        ("1004.25", "1004.25"),
        ("P43DT8H30M", "1040.50"),
        ("P0Y0M1DT0,5H", "24.50"),
        ("1.31055E3", "1310.55"),
        ("1411.1000000000000000000000000000001", "1411.10"),
        ("+1250.50000", "1250.50"),
        ("1222,25", "1222.25"),
        ("12 h", "12.00"),
        ("12.5h", "12.50"),
        ("1,310.55", "1310.55"),
        ("1.310,55", "1310.55"),
        ("1 310.55", "1310.55"),
        ("78633 minute", "1310.55"),
        ("3600 seconds", "1.00"),
    ],
)
def test_hours_as_a_number_or_a_duration(text, hours):
    assert hours_of(text) == Decimal(hours)


@pytest.mark.parametrize(
    "text",
    [
        "P",
        "PT",
        "P1Y",
        "P1M",
        "-5",
        "12 ticks",
        "",
        "NaN",
        "1e9",
        "PT-3H",
        "1,204",
        "1 2",
        "12 34.5",
        "9" * 60,
    ],
)
def test_hours_that_are_none(text):
    with pytest.raises(Unreadable):
        hours_of(text)


def test_words_for_nothing_are_nothing_and_what_is_unknown_is_passed_over():
    header = "<Model>missing</Model><PIN>missing</PIN><SerialNumber> K-1 </SerialNumber>"
    extra = '<FaultCode datetime="x"><Code>7</Code></FaultCode><x:CumulativeOperatingHours xmlns:x="urn:x">'
    extra += "<x:Hour>5</x:Hour></x:CumulativeOperatingHours>"
    (unit,) = read(fleet(equipment(extra, header))).units
    assert (unit.model, unit.pin, unit.serial, unit.hours) == ("", "", "K-1", None)


BOMB = (
    '<?xml version="1.0"?><!DOCTYPE Fleet [<!ENTITY a "hours"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
    '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>'
)
OUTSIDE = '<?xml version="1.0"?><!DOCTYPE Fleet [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
REFUSED = {
    "an XML bomb": (fleet("&c;", before=BOMB), "declares entities or a document type"),
    "a file from outside": (fleet("&x;", before=OUTSIDE), "declares entities or a document type"),
    "half a document": (SAMPLE[:700], "Only part of the document arrived"),
    "half a tag": (SAMPLE[:705], "Only part of the document arrived"),
    "half of JSON": (b'{"Equipment": [{"EquipmentHeader": {"PIN": "1XM', "Only part of the document arrived"),
    "half of JSON, between values": (
        b'{"Equipment": [{"EquipmentHeader":',
        "Only part of the document arrived",
    ),
    "broken XML": (fleet("<Equipment></Links>"), "The XML is broken in line 1"),
    "broken JSON": (b'{"Equipment": [}]', "The JSON is broken in line 1"),
    "a sign-in page": (b"<!DOCTYPE html><html><body>Sign in</body></html>", "a web page"),
    "XHTML": (b'<html xmlns="http://www.w3.org/1999/xhtml"></html>', "a web page"),
    "plain text": (b"nothing here today", "neither XML nor JSON"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + bytes(300), "neither XML nor JSON"),
    "nothing": (b"", "empty answer"),
    "blanks": (b" \r\n ", "empty answer"),
    "another document": (b"<Orders><Order/></Orders>", "is a Orders, not a fleet snapshot"),
    "an unknown namespace": (fleet("", "urn:other"), "of urn:other, not a fleet snapshot"),
    "JSON of something else": (b'{"orders": []}', "no list named Equipment"),
    "JSON nested without end": (b'{"a":' + b"[" * 200_000, "is nested too deeply: more than 20 levels"),
    "JSON of millions of values": (
        b'{"Equipment": [' + b"1," * 2_000_000 + b"1]}",
        "at most 300,000 are read",
    ),
    "XML nested without end": (fleet("<Equipment>" * 50), "nests its elements deeper"),
    "a value without end": (
        fleet(equipment(f"<Location><Latitude>{'9' * 3000}</Latitude></Location>")),
        "longer than any",
    ),
    "an encoding nobody has": (b'<?xml version="1.0" encoding="x-none"?><Fleet/>', "XML"),
}


@pytest.mark.parametrize(("body", "why"), REFUSED.values(), ids=REFUSED)
@pytest.mark.parametrize("block", [5, 100_000])
def test_refused(body, why, block):
    with pytest.raises(SnapshotRefused) as refused:
        read(body, block=block)
    assert why in refused.value.sentence


def test_too_large_a_page_or_too_many_units():
    small = replace(USUAL, page_bytes=1000, json_bytes=200)
    with pytest.raises(SnapshotRefused, match="larger than"):
        read(SAMPLE, limits=small)
    with pytest.raises(SnapshotRefused, match="larger than"):
        read(b'{"Equipment": [' + b" " * 500, limits=small)
    for body in (fleet(equipment("") * 3), b'{"Equipment": [{}, {}, {}]}'):
        with pytest.raises(SnapshotRefused, match="more than"):
            read(body, room=2)


def test_utf_16_and_a_byte_order_mark():
    text = SAMPLE.decode().replace("UTF-8", "UTF-16")
    assert len(read(text.encode("utf-16")).units) == 3
    assert len(read(b"\xef\xbb\xbf" + SAMPLE, block=1).units) == 3


AT = "2026-03-02T05:41:00Z"
TIMES = {
    "the hours' own": (f'<CumulativeOperatingHours datetime="{AT}"><Hour>5</Hour>', ""),
    "as an element": (f"<CumulativeOperatingHours><Hour>5</Hour><DateTime>{AT}</DateTime>", ""),
    "under another name": (f"<CumulativeOperatingHours><Hour>5</Hour><ReadAt>{AT}</ReadAt>", ""),
    "the unit's": ("<CumulativeOperatingHours><Hour>5</Hour>", f' dateTime="{AT}"'),
}


@pytest.mark.parametrize(("section", "attribute"), TIMES.values(), ids=TIMES)
def test_the_nearest_time_is_that_of_the_hours(section, attribute):
    """The page's is the last resort: taken for another one it would move a reading without a word."""
    inside = equipment(f"{section}</CumulativeOperatingHours>").replace(
        "<Equipment>", f"<Equipment{attribute}>"
    )
    body = fleet(inside).replace(b' version="1"', b' snapshotTime="2026-03-02T09:00:00Z"')
    (unit,) = read(body).units
    assert unit.hours == Timed("5", AT)


@pytest.mark.parametrize(
    "beside",
    [{"snapshotTime": AT}, {"meta": {"SnapshotTime": AT}}, {"fleet": {"snapshotTime": AT}}],
)
def test_the_time_of_the_snapshot_is_the_last_resort(beside):
    unit = {"EquipmentHeader": {"SerialNumber": "K-1"}, "CumulativeOperatingHours": {"Hour": 5}}
    (read_unit,) = read(json.dumps({"Equipment": [unit], **beside}).encode()).units
    assert read_unit.hours == Timed("5", AT)


@pytest.mark.parametrize(
    "namespace",
    [
        "https://standards.iso.org/iso/15143/-3/",
        "http://standards.iso.org/iso/TS/15143/-3/ed-1/en",
        "http://schemas.aemp.org/fleet/1.2",
        "urn:iso:std:iso:ts:15143:-3",
        "",
    ],
)
def test_namespaces_in_other_spellings(namespace):
    assert len(read(fleet(equipment(""), namespace)).units) == 1


def test_units_without_a_namespace_in_a_fleet_that_has_one():
    """As programs write them that qualify the root alone; they were passed over, and the page was empty."""
    body = f'<n:Fleet xmlns:n="{ISO}">{equipment("")}</n:Fleet>'.encode()
    assert len(read(body).units) == 1


def test_units_in_a_list_of_their_own():
    (unit,) = read(fleet(f"<EquipmentList>{equipment('')}</EquipmentList>")).units
    assert unit.serial == "K-1"


def test_units_that_are_called_otherwise_refuse_the_page():
    body = fleet(equipment("").replace("Equipment>", "Machine>").replace("MachineHeader", "EquipmentHeader"))
    with pytest.raises(SnapshotRefused, match="units are in a form that can't be read"):
        read(body)


@pytest.mark.parametrize(
    "hours",
    ['<Hour unit="minutes">300</Hour>', "<Hour>300</Hour><Unit>min</Unit>", '<Hour value="300 min"/>'],
)
def test_the_unit_of_hours_wherever_it_stands(hours):
    (unit,) = read(fleet(equipment(f"<CumulativeOperatingHours>{hours}</CumulativeOperatingHours>"))).units
    assert hours_of(unit.hours.value) == 5
    told = {"EquipmentHeader": {}, "CumulativeOperatingHours": {"Hour": {"value": 300, "unit": "min"}}}
    (unit,) = read(json.dumps({"Equipment": [told]}).encode()).units
    assert hours_of(unit.hours.value) == 5


def test_units_of_another_namespace_refuse_the_page():
    body = fleet(equipment("").replace("<Equipment>", '<Equipment xmlns="urn:x">'))
    with pytest.raises(SnapshotRefused, match="namespace that isn't the standard's"):
        read(body)


def test_a_single_unit_in_the_place_of_a_list_and_a_list_of_units_alone():
    unit = {"equipmentHeader": {"serialNumber": "K-1"}, "cumulativeOperatingHours": {"hour": {"#text": "5"}}}
    for document in ({"Equipment": unit}, {"fleet": {"Equipment": {"Equipment": [unit]}}}, [unit]):
        (found,) = read(json.dumps(document).encode()).units
        assert (found.serial, found.hours.value) == ("K-1", "5")
