"""Small bodies that would become a thousand times as much: refused before they become objects.

Each is read in a process of its own, where memory and processor time are measured.
"""

import gzip
import json
import zlib

import pytest

from fleet.api import bodies
from fleet.core.json_limits import TooMuch, check_json
from tests.fleet.imports.measured import MEGABYTE, measured

pytestmark = pytest.mark.security

JSON, LINED, TABLED = "application/json", "application/x-ndjson", "text/csv"
READ = """
    import os
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
    import django; django.setup()
    from types import SimpleNamespace
    from rest_framework.exceptions import APIException
    from fleet.api import bodies
    parser = {JsonRows}()
    request = SimpleNamespace(META={{}}, headers={{"Content-Encoding": "gzip"}})
    before = used()
    try:
        said = len(parser.parse(open(sys.argv[1], "rb"), None, {{"request": request}}).rows)
    except APIException as error:
        said = f"{{error.status_code}} {{error}}"
"""
PARSERS = {JSON: "bodies.JsonRows", LINED: "bodies.LinedRows", TABLED: "bodies.CsvRows"}
ALL = bodies.MOST_BYTES - 100


def filled(piece, begin="", end=""):
    """As many pieces as 8 MB hold."""
    return f"{begin}{piece * (ALL // len(piece))}{end}"


ATTACKS = {
    "objects": (JSON, lambda: filled("{},", "[", "{}]"), "413 The body holds"),
    "lists": (JSON, lambda: filled("[],", "[", "[]]"), "413 The body holds"),
    "objects with a member": (JSON, lambda: filled('{"":0},', "[", "{}]"), "413 The body holds"),
    "fractions": (JSON, lambda: filled(".1,".replace(".", "0."), "[", "0]"), "413 The body holds"),
    "numbers in one value": (
        JSON,
        lambda: filled("1,", '[{"machine":[', "1]}]"),
        "413 The body holds",
    ),
    "after an escaped quotation mark": (
        JSON,
        lambda: filled("{},", '["\\\\\\"\\\\",', "{}]"),
        "413 The body holds",
    ),
    "nesting": (JSON, lambda: "[" * 100_000, "413 The body is nested too deeply"),
    "nesting that ends": (JSON, lambda: "[" * 21 + "]" * 21, "413 The body is nested too deeply"),
    "one string": (JSON, lambda: filled("x", '["', '"]'), 1),
    "one string of marks": (JSON, lambda: filled('\\"', '["', '"]'), 1),
    "half a string": (JSON, lambda: filled("x", '["'), "400 The body is not JSON"),
    "a number of millions of digits": (JSON, lambda: filled("7", "[", "]"), "400 The body is not JSON"),
    "a fraction of millions of digits": (JSON, lambda: filled("7", "[0.", "]"), 1),
    "broken lines": (LINED, lambda: filled("x\n"), "413 Send at most 100,000 lines"),
    "blank lines": (LINED, lambda: filled("\n"), "413 Send at most 100,000 lines"),
    "objects on one line": (LINED, lambda: filled("{},", '{"machine":[', "{}]}"), "413 The body holds"),
    "lines of lists": (LINED, lambda: filled("[[[[]]]]\n"), "413 Send at most 100,000 lines"),
    "rows of one cell": (TABLED, lambda: filled("a\n", "machine,taken_at,meter\n"), "413 Send at most"),
    "a row of millions of cells": (
        TABLED,
        lambda: filled(",", "machine,taken_at,meter\n"),
        "400 Nothing was saved: 1 malformed",
    ),
    "a heading of millions of cells": (TABLED, lambda: filled(","), "400 Nothing was saved: 1 malformed"),
    "a quoted cell without its end": (
        TABLED,
        lambda: filled("a,", 'machine,taken_at,meter\n"'),
        "400 Nothing was saved: 1 malformed",
    ),
}


@pytest.mark.parametrize(("kind", "make", "said"), ATTACKS.values(), ids=ATTACKS)
def test_it_stays_small(kind, make, said, tmp_path):
    packed = gzip.compress(make().encode(), mtime=0)
    assert len(packed) < 100_000
    found = measured(packed, tmp_path, READ.format(JsonRows=PARSERS[kind]))
    assert str(found.said).startswith(str(said))
    assert found.memory < 100 * MEGABYTE
    assert found.seconds < 8


def test_members_without_anything_in_them(tmp_path):
    """Each was copied to look for the next: half a million of them took hours."""
    empty = gzip.compress(b"", mtime=0)
    found = measured(empty * (ALL // len(empty)), tmp_path, READ.format(JsonRows=PARSERS[JSON]))
    assert found.said == "400 The gzip body has more than 64 members; pack it in one."
    assert found.seconds < 5


def test_a_whole_batch_of_the_longest_rows_is_read(farm):
    farm.machine(tag="T-07")
    rows = [
        {
            "machine": "T-07",
            "taken_at": f"2026-03-01T12:00:{number % 60:02}Z",
            "meter": 5,
            "client_id": f"c{number}",
            "note": '{"[,\\' * 200,
            "more": {"of": ["their", "own", {"values": [1, 2, 3]}]},
        }
        for number in range(bodies.MOST_ROWS)
    ]
    check_json(json.dumps(rows), most=bodies.MOST_VALUES)
    answer = farm.device().generic(
        "POST",
        "/api/v1/readings",
        zlib.compress(json.dumps(rows[:50]).encode(), wbits=31),
        content_type=JSON,
        HTTP_CONTENT_ENCODING="gzip",
    )
    assert answer.status_code == 200
    assert answer.json()["refused"] == 0


@pytest.mark.parametrize(
    "text", ["[" * 21, '{"a":' * 21, '["]",' * 5 + "[" * 20, "[1,2,3,4,5,6,7,8,9,10,11]"]
)
def test_too_much_is_counted_outside_of_strings(text):
    with pytest.raises(TooMuch):
        check_json(text, most=10)
    check_json(json.dumps(text), most=0)


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"[" * 100_000, 413),
        (b"[" + b"{}," * 300_000 + b"{}]", 413),
        (b'"' + b"x" * 1024**2 + b'"', 413),
        (b'{"a": ' + b"7" * 5000 + b"}", 400),
        (b'{"a": NaN}', 400),
        (b'{"a": "\xff"}', 400),
        (b'{"a": 1e999999}', 400),
    ],
    ids=["nesting", "objects", "large", "digits", "NaN", "no text", "beyond bounds"],
)
def test_other_routes_hold_limits_too(farm, body, status):
    answer = farm.api("manager").generic(
        "POST", "/api/v1/readings/987654321/discard", body, content_type=JSON
    )
    assert answer.status_code == status, answer.content
    assert answer["Content-Type"] == "application/problem+json"
