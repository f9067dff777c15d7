"""The page of the API says what the document says, and its example works as it stands."""

import re

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.utils import translation
from drf_spectacular.generators import SchemaGenerator

from fleet.api.guide import Values, guide, read
from fleet.api.schema import EnglishGenerator
from fleet.core.roles import RIGHTS
from fleet.models import Member

MACHINES = ("/api/v1/machines", "GET")
EVERYBODY = "Owner, Manager, Technician, Hire desk"


@pytest.fixture
def document():
    return SchemaGenerator().get_schema(request=None, public=True)


@pytest.fixture
def page(db):
    answer = Client().get("/api/")
    assert answer.status_code == 200
    return answer.content.decode()


def route(path, method="GET"):
    (found,) = [
        each
        for group in guide().groups
        for each in group.routes
        if (each.path, each.method) == (path, method)
    ]
    return found


def test_every_route_of_the_document_stands_on_it_once(page, document):
    shown = re.findall(r"<summary><span><code>(\w+) ([^<]+)</code>", page)
    served = [(method.upper(), path) for path, item in document["paths"].items() for method in item]
    assert sorted(shown) == sorted(served)
    assert len(shown) > 30


def test_the_document_is_english_whoever_asks(document):
    with translation.override("de"):
        assert EnglishGenerator().get_schema(request=None, public=True) == document


def test_every_link_within_it_leads_somewhere(page):
    ids = set(re.findall(r' id="([^"]+)"', page))
    wanted = set(re.findall(r'href="#([^"]+)"', page))
    assert wanted <= ids
    assert {"object-Machine", "object-ReadingInRequest", "readings", "refusals"} <= wanted


def test_it_loads_nothing_from_elsewhere_and_bears_the_houses_name(page):
    loaded = re.findall(r'(?:src|href)="(/static/[^"#]+)', page)
    assert loaded
    assert all(finders.find(url.removeprefix("/static/")) for url in loaded)
    assert not re.search(r'(?:src|href)="(?:https?:)?//', page)
    assert "<title>API · Hourmark</title>" in page
    assert "style=" not in page


def test_it_says_who_may_as_the_routes_decide(page):
    assert route("/api/v1/machines").who == EVERYBODY
    assert route("/api/v1/readings", "POST").who == f"{EVERYBODY}, Devices"
    assert route("/api/v1/orders", "POST").who == "Owner, Manager"
    assert route("/api/v1/orders/{id}/start", "POST").who == "Owner, Manager, Technician"
    assert route("/api/v1/readings/{id}/case").who == "Owner, Manager, Hire desk"


@pytest.mark.parametrize("role", RIGHTS)
def test_whom_it_names_the_route_lets_in(farm, role):
    """Planning an order of nothing is refused for what is missing, or for the role."""
    named = Member.Role(role).label in route("/api/v1/orders", "POST").who.split(", ")
    answer = farm.api(role).post("/api/v1/orders", {}, format="json")
    assert answer.status_code == (400 if named else 403)


def test_filters_bodies_and_refusals_are_named():
    machines = route("/api/v1/machines")
    by_name = {each.name: each for each in machines.parameters}
    assert by_name["state"].kind.startswith("one of `in the shop`, `out on hire`")
    assert by_name["ordering"].kind == "one or more of `hours`, `hours_at`, `in_service_on`, `tag`"
    assert by_name["ordering"].says == "Sort by this; a minus in front turns the order round."
    assert by_name["yard"].kind == "whole number"
    assert by_name["page_size"].says == "How many a page: 100 without it, 500 at most."
    assert 403 in machines.refusals
    sent = route("/api/v1/readings", "POST")
    assert [(body.media, body.holds.of) for body in sent.bodies] == [
        ("application/json", "ReadingsInRequest"), ("application/x-ndjson", ""), ("text/csv", ""),
    ]  # fmt: skip
    assert [(each.name, each.of) for each in sent.answers] == [("200", "Receipts")]


def test_what_must_be_sent_is_marked_and_what_is_answered_is_not():
    things = {thing.name: thing for thing in guide().things}
    needed = {each.name for each in things["ReadingInRequest"].fields if each.needed}
    assert needed == {"machine", "meter", "taken_at"}
    assert not any(each.needed for each in things["Machine"].fields)


@pytest.mark.parametrize(
    ("schema", "said"),
    [
        ({"type": "string", "format": "date"}, "day, as 2026-05-03"),
        ({"type": "string", "nullable": True}, "text or null"),
        ({"type": "array", "items": {"type": "integer"}}, "list of whole number"),
        ({"oneOf": [{"type": "integer"}, {"type": "string"}]}, "whole number or text"),
        ({"allOf": [{"$ref": "#/components/schemas/Few"}], "nullable": True}, "one of `a`, `b` or null"),
        ({"enum": ["", "x", None]}, "one of `x`"),
        ({"type": "object"}, "object"),
        ({}, ""),
    ],
)
def test_what_a_value_is_in_words(schema, said):
    assert Values({"Few": {"enum": ["a", "b"], "type": "string"}}).kind(schema) == (said, "")


def test_a_list_of_objects_names_them():
    values = Values({"Yard": {"type": "object"}})
    yards = {"type": "array", "items": {"$ref": "#/components/schemas/Yard"}}
    assert values.kind(yards) == ("list of", "Yard")
    assert values.kind({"allOf": [yards["items"]]}) == ("", "Yard")


def test_words_of_a_document_are_no_markup(document):
    document["paths"]["/api/v1/machines"]["get"]["description"] = "List `<b>` & more."
    routes = [each for group in read(document).groups for each in group.routes]
    assert [each.says for each in routes if (each.path, each.method) == MACHINES] == [["List `<b>` & more."]]


def test_a_member_finds_the_tokens_from_it(farm, page):
    assert 'href="/tokens/"' in farm.client("technician").get("/api/").content.decode()
    assert 'href="/tokens/"' not in page
    assert Client().post("/api/").status_code in (403, 405)
