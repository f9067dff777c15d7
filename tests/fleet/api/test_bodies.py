"""Bodies of the intake. JSON: RFC 8259; CSV: RFC 4180; gzip: RFC 1952; statuses: RFC 9110, section 15.5."""

import gzip
import json
import zlib

import pytest

from fleet.api import bodies
from fleet.models import Reading

URL = "/api/v1/readings"
LINED, TABLED = "application/x-ndjson", "text/csv"


@pytest.fixture
def box(farm):
    farm.machine(tag="T-07")
    return farm.device()


def row(shows, day=1, **more):
    return {"machine": "T-07", "taken_at": f"2026-03-{day:02d}T12:00:00Z", "meter": shows, **more}


def post(box, body, kind="application/json", **headers):
    body = body.encode() if isinstance(body, str) else body
    return box.generic("POST", URL, body, content_type=kind, **headers)


def check(answer, status):
    assert (answer.status_code, answer["Content-Type"]) == (status, "application/problem+json")
    return answer.json()


def kept(farm):
    with farm.scope():
        return [(str(one.shows), one.client_id, one.note) for one in Reading.objects.order_by("taken_at")]


LINES = "\n".join(json.dumps(row(n, n, client_id=f"c{n}")) for n in (1, 2))
TABLE = 'meter,machine,taken_at,note,client_id\r\n1,T-07,2026-03-01T12:00:00Z,"hot, dusty",a\r\n'


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        (LINES, LINED, [("1.00", "c1", ""), ("2.00", "c2", "")]),
        (LINES.replace("\n", "\r\n\r\n") + "\n", LINED, [("1.00", "c1", ""), ("2.00", "c2", "")]),
        ("\ufeff" + LINES, LINED, [("1.00", "c1", ""), ("2.00", "c2", "")]),
        (TABLE, TABLED, [("1.00", "a", "hot, dusty")]),
        (TABLE.replace("\r", ""), f"{TABLED}; charset=UTF-8", [("1.00", "a", "hot, dusty")]),
        ("\ufeffMachine, Taken_at ,METER\nT-07,2026-03-01T12:00:00Z,3.5", TABLED, [("3.50", None, "")]),
        (json.dumps([row(0.29)]), "application/json", [("0.29", None, "")]),  # 0.29 * 100 is 28.99...
    ],
)
def test_each_kind_of_body_comes_in(farm, box, text, kind, expected):
    answer = post(box, text, kind)
    assert (answer.status_code, answer.json()["counted"]) == (200, len(expected)), answer.json()
    assert kept(farm) == expected


@pytest.mark.parametrize("kind", ["text/plain", "application/xml", "text/csv; charset=latin-1"])
def test_another_kind_is_not_read(farm, box, kind):
    answer = post(box, "x", kind)
    check(answer, 415)
    if "charset" not in kind:
        assert answer["Accept"] == "application/json, application/x-ndjson, text/csv"  # RFC 9110, 15.5.16


def test_malformed_lines_are_named_and_nothing_is_taken_in(farm, box):
    text = f'{json.dumps(row(1))}\n\n{{"machine": \n5\n{json.dumps(row(2, 2))}\n{{"meter": NaN}}'
    told = check(post(box, text, LINED), 400)
    assert [error["line"] for error in told["errors"]] == [3, 4, 6]
    assert kept(farm) == []


def test_no_more_than_20_malformed_lines_are_named(box):
    told = check(post(box, "{\n" * 25, LINED), 400)
    assert len(told["errors"]) == 20
    assert "5 more" in told["detail"]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("machine,taken_at\nT-07,2026-03-01T12:00:00Z", 1),
        ("machine,taken_at,meter,hours\n", 1),
        ("machine,taken_at,meter,meter\n", 1),
        ("", None),
        ("machine,taken_at,meter,note\nT-07,2026-03-01T12:00:00Z,1,a\nT-07,2026-03-02T12:00:00Z,2", 3),
        ('machine,taken_at,meter,note\nT-07,2026-03-01T12:00:00Z,1,"two\nlines"\nT-07\n', 4),
        ('machine,taken_at,meter\nT-07,2026-03-01T12:00:00Z,"1" 2\n', 2),
        ('machine,taken_at,meter\nT-07,2026-03-01T12:00:00Z,"1\n', 2),
    ],
)
def test_a_table_that_is_none(farm, box, text, line):
    told = check(post(box, text, TABLED), 400)
    if line:
        assert [error["line"] for error in told["errors"]] == [line]
    assert kept(farm) == []


@pytest.mark.parametrize(
    ("cells", "said"),
    [("T-07", "This line has 1 cell; the"), ("T-07,2026-03-01T12:00:00Z", "This line has 2 cells; the")],
)
def test_a_line_of_another_width_is_counted(box, cells, said):
    told = check(post(box, f"machine,taken_at,meter\n{cells}\n", TABLED), 400)
    assert [error["detail"] for error in told["errors"]] == [f"{said} first line names 3."]


@pytest.mark.parametrize(
    "pack", [gzip.compress, lambda body: gzip.compress(body[:9]) + gzip.compress(body[9:])]
)
def test_packed(farm, box, pack):
    """Several members end to end are one text: RFC 1952, 2.2."""
    answer = post(box, pack(json.dumps([row(1)]).encode()), HTTP_CONTENT_ENCODING="gzip")
    assert answer.json()["counted"] == 1
    assert kept(farm) == [("1.00", None, "")]


@pytest.mark.parametrize(
    "packed",
    [
        b"no gzip",
        gzip.compress(b'[{"machine": "T-07"}]')[:-4],
        gzip.compress(b"[]") + b"more",
        zlib.compress(b"[]"),
    ],
    ids=["not packed", "cut off", "something after", "another packing"],
)
def test_packed_badly(box, packed):
    check(post(box, packed, HTTP_CONTENT_ENCODING="gzip"), 400)


def test_packed_in_a_way_that_is_not_read(box):
    answer = post(box, b"[]", HTTP_CONTENT_ENCODING="br")
    check(answer, 415)
    assert answer["Accept-Encoding"] == "gzip, identity"  # RFC 9110, 15.5.16


def test_a_bomb_is_not_unpacked(box):
    """A gigabyte in a megabyte; what is unpacked stays below the limit and a little."""
    packer = zlib.compressobj(9, wbits=31)
    block = b" " * (1 << 20)
    bomb = b"".join(packer.compress(block) for _ in range(1024)) + packer.flush()
    assert len(bomb) < bodies.MOST_BYTES
    check(post(box, bomb, HTTP_CONTENT_ENCODING="gzip"), 413)


@pytest.mark.parametrize("kind", ["application/json", LINED, TABLED])
def test_more_than_8_megabytes(box, kind):
    most = 8 * 1024**2
    check(post(box, b" " * (most + 1), kind), 413)
    check(post(box, gzip.compress(b" " * (most + 1)), kind, HTTP_CONTENT_ENCODING="gzip"), 413)
    for whole, coding in ((b" " * most, "identity"), (gzip.compress(b" " * most), "gzip")):
        assert post(box, whole, kind, HTTP_CONTENT_ENCODING=coding).status_code in (200, 400)


def test_more_lines_than_5000(box):
    check(post(box, "{}\n" * 5001, LINED), 413)
    check(post(box, "machine,taken_at,meter\n" + "a,b,c\n" * 5001, TABLED), 413)
    assert post(box, "{}\n" * 5000, LINED).json()["refused"] == 5000


def test_a_body_without_its_length(box):
    """RFC 9110, 15.5.12."""
    answer = box.generic("POST", URL, b"", content_type="application/json", HTTP_TRANSFER_ENCODING="chunked")
    check(answer, 411)


@pytest.mark.parametrize("number", ["1e999999999999999999999", "-1e400", "1e-999999999"])
def test_numbers_beyond_bounds(box, number):
    answer = post(box, f'[{{"machine": "T-07", "taken_at": "2026-03-01T12:00:00Z", "meter": {number}}}]')
    assert answer.status_code in (200, 400)
    if answer.status_code == 200:
        assert answer.json()["refused"] + answer.json()["counted"] == 1
