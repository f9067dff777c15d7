"""Another organisation's rows named inside what is sent: refused, and nothing changes."""

import copy

import pytest
from django import forms
from drf_spectacular.generators import SchemaGenerator

from tests.doors.addresses import DOORS
from tests.doors.api import API
from tests.doors.door import read, with_other
from tests.doors.pages import PAGES

pytestmark = pytest.mark.doors

NAMES = [(door, path, row) for door in DOORS.values() for path, row in door.names_in_body.items()]
REFUSED = {400, 404, 422}
# Words of the API's bodies that name a row.
ROWS = {
    "machine",
    "tasks_due",
    "fault",
    "faults",
    "technician",
    "line",
    "check",
    "part",
    "yard",
    "type",
    "other",
}
# Names that are no ids of ours to refuse: gone through below.
BY_RECEIPT = "api-readings"


def said(case):
    return ".".join(map(str, case)) if isinstance(case, tuple) else getattr(case, "name", case)


@pytest.mark.parametrize(("door", "path", "row"), NAMES, ids=said)
def test_naming_anothers_row_is_refused(ours, theirs, unchanged, door, path, row):
    """The other organisation's owner writes at home, with one id of the farm's among their own."""
    client = door.client(theirs, "owner")
    body = with_other(door.body(theirs), path, ours.key(row))
    answer = door.send(client, door.writes, door.address(theirs), body)
    if door.name == BY_RECEIPT:
        assert (answer.status_code, answer.json()["refused"]) == (200, 1)
    else:
        assert answer.status_code in REFUSED
    assert unchanged()


@pytest.mark.parametrize("name", ["tag", "serial"])
def test_a_reading_names_no_machine_of_another_by_its_words(ours, theirs, unchanged, name):
    door = DOORS[BY_RECEIPT]
    body = with_other(door.body(theirs), ("readings", 0, "machine"), getattr(ours.machine, name))
    answer = door.send(theirs.with_token["owner"], "post", door.address(theirs), body)
    assert answer.json()["refused"] == 1
    assert unchanged()


@pytest.mark.parametrize("door", [door for door in PAGES if door.get is not None], ids=lambda door: door.name)
def test_every_choice_of_rows_on_a_page_is_tried(ours, door):
    """A field of a page that lets one choose rows must be among those tried above."""
    answer = door.client(ours, "owner").get(door.address(ours))
    read(answer)
    tried = {path[0] for path in door.names_in_body}
    asked = {
        form.add_prefix(name)
        for layer in answer.context or []
        for found in layer.flatten().values()
        for form in ([found] if isinstance(found, forms.BaseForm) else [])
        for name, field in form.fields.items()
        if isinstance(field, forms.ModelChoiceField)
    }
    elsewhere = {"order": {"technician"}, "part": {"yard"}}  # their forms go to order-assign and part-count
    filters = {
        "orders": {"technician"},
        "ahead": {"yard", "type"},
        "machines": {"yard", "type"},
        "gate": {"yard", "type"},
        "machine-stickers": {"yard"},
    }
    assert asked - tried <= elsewhere.get(door.name, set()) | filters.get(door.name, set())


@pytest.mark.parametrize("door", [door for door in API if door.writes], ids=lambda door: door.name)
def test_every_row_a_body_of_the_api_names_is_tried(ours, door):
    document = SchemaGenerator().get_schema(request=None, public=True)
    tried = {word for path in door.names_in_body for word in path if isinstance(word, str)}
    for path, item in document["paths"].items():
        if door.writes in item and door.address(ours).startswith("/") and _same(path, door.address(ours)):
            content = item[door.writes].get("requestBody", {"content": {}})["content"]
            schemas = [part["schema"] for part in content.values()]
            assert _words(schemas, document) & ROWS <= tried
            break
    else:
        pytest.fail(f"{door.name} is not in the document")


def _same(path, address):
    shape, given = path.split("/"), address.split("/")
    return len(shape) == len(given) and all(
        a == b or (a.startswith("{") and b.isdigit()) for a, b in zip(shape, given, strict=True)
    )


def _words(schemas, document):
    """The names of all properties in these schemas and in those they refer to."""
    words, waiting, seen = set(), copy.deepcopy(schemas), set()
    while waiting:
        schema = waiting.pop()
        if not isinstance(schema, dict):
            continue
        if (reference := schema.get("$ref")) and reference not in seen:
            seen.add(reference)
            waiting.append(document["components"]["schemas"][reference.rsplit("/", 1)[1]])
        words |= set(schema.get("properties", {}))
        waiting += schema.get("properties", {}).values()
        waiting += [schema.get("items"), *schema.get("allOf", []), *schema.get("oneOf", [])]
    return words
