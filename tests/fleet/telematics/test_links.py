"""The next page in every shape that servers write links in, or a failure that is told: never page 1 alone.

RFC 8288 (its header) and RFC 9110 (Content-Range) are from memory; the other shapes are common practice, no
source.
"""

import json
from functools import partial

import pytest

from fixtures.telematics.server import NAMESPACE
from fleet.models import Reading
from fleet.telematics import poll as telematics
from fleet.telematics.links import of_header
from tests.fleet.telematics.conftest import NOW

pytestmark = pytest.mark.django_db

FIRST, SECOND = "/Fleet/1", "/Fleet/2"
EQUIPMENT = (
    "<Equipment><EquipmentHeader><SerialNumber>K-{n}</SerialNumber></EquipmentHeader>"
    '<CumulativeOperatingHours datetime="2026-03-02T05:41:00Z"><Hour>104.5</Hour>'
    "</CumulativeOperatingHours></Equipment>"
)


def in_xml(links="", n=1, root="", prefix=""):
    attributes = f' xmlns{prefix and ":" + prefix}="{NAMESPACE}"{root}'
    name = f"{prefix}:Fleet" if prefix else "Fleet"
    return f"<{name}{attributes}>{links}{EQUIPMENT.format(n=n)}</{name}>".encode()


def in_json(n=1, **beside):
    unit = {
        "EquipmentHeader": {"SerialNumber": f"K-{n}"},
        "CumulativeOperatingHours": {"Hour": 104.5, "Datetime": "2026-03-02T05:41:00Z"},
    }
    return json.dumps({"Equipment": [unit], **beside}).encode()


FOLLOWED = {
    "pairs": in_xml("<Links><rel>next</rel><href>/Fleet/2</href></Links>"),
    "pairs, nested": in_xml(
        "<Links><Link><rel>self</rel><href>/Fleet/1</href></Link>"
        "<Link><Rel>Next</Rel><Href>/Fleet/2</Href></Link></Links>"
    ),
    "attributes": in_xml(
        '<Links><Link rel="self" href="/Fleet/1"/><Link rel="next" href="/Fleet/2"/></Links>'
    ),
    "of another namespace": in_xml(
        '<a:link xmlns:a="http://www.w3.org/2005/Atom" rel="next" href="/Fleet/2"/>'
    ),
    "address as text": in_xml('<Links><Link rel="next">/Fleet/2</Link></Links>'),
    "named by the relation": in_xml("<Links><Next>/Fleet/2</Next><Previous/></Links>"),
    "named, with an attribute": in_xml('<Links><next href="/Fleet/2"/></Links>'),
    "beside the units": in_xml("<NextPage>/Fleet/2</NextPage>"),
    "an attribute of the fleet": in_xml(root=' nextPage="/Fleet/2"'),
    "relative": in_xml("<Links><rel>next</rel><href>2</href></Links>"),
    "escaped twice": in_xml("<Links><rel>next</rel><href>/Fleet/2?a=1&amp;amp;b=2</href></Links>"),
    "a list": in_json(Links=[{"Rel": "next", "Href": "/Fleet/2"}]),
    "one pair": in_json(links={"rel": "next", "href": "/Fleet/2"}),
    "an object": in_json(links={"self": "/Fleet/1", "next": "/Fleet/2", "prev": None}),
    "an object of objects": in_json(_links={"next": {"href": "/Fleet/2"}}),
    "a list in an object": in_json(Links={"Link": [{"@rel": "next", "@href": "/Fleet/2"}]}),
    "in the paging": in_json(pagination={"page": 1, "totalPages": 2, "nextUrl": "/Fleet/2"}),
    "a member": in_json(next="/Fleet/2"),
    "with a mark": in_json(**{"@odata.nextLink": "/Fleet/2"}),
    "called by its name": in_json(links=[{"name": "next", "url": SECOND}]),
    "an odd name": in_json(urlOfNextPage="/Fleet/2"),
    "a relation that is an address": in_json(
        links=[{"rel": "http://feed.example/rels/next", "href": SECOND}]
    ),
}
HEADERS = {
    "Link": '<http://127.0.0.1/>; rel="first", <2?ids=4,5>; title="2, of 2"; rel="next last"',
    "X-Next-Page": "/Fleet/2",
    "X-Pagination": '{"TotalPages": 2, "NextPageLink": "/Fleet/2"}',
}
MORE = {
    "pages": in_json(page=1, totalPages=3),
    "pages in a string": in_json(paging={"pages": "3"}),
    "units": in_json(totalCount=250),
    "a flag": in_json(hasMore=True),
    "not the last": in_json(last=False, number=0),
    "a number": in_json(nextPage=2),
    "a cursor": in_json(paging={"cursors": {"after": "abc"}}),
    "one of three": in_json(page="1/3"),
    "beside the page": in_json(page={"current": 1, "of": 3}),
    "a token": in_json(nextPageToken="CAUQAA"),
    "a link without an address": in_json(links={"next": {"page": 2}}),
    "a relation without an address": in_xml(
        '<Links><Link rel="self" href="/Fleet/1"/><Link rel="next"/></Links>'
    ),
    "links that can't be read": in_xml("<Links><Entry to='/Fleet/2'>weiter</Entry></Links>"),
    "the last is another": in_json(links=[{"rel": "last", "href": "/Fleet/9"}]),
    "pages of the fleet": in_xml(root=' totalPages="3"'),
}
LAST = {
    "an empty next": in_json(next=""),
    "none": in_json(links={"next": None}),
    "a cursor that ends": in_json(pageInfo={"endCursor": "abc", "hasNextPage": False}),
    "an empty list": in_json(links=[]),
    "an empty element": in_xml("<Links/>"),
    "an empty link": in_xml("<Links><rel>next</rel><href/></Links>"),
    "one page of one": in_json(page=1, totalPages=1, totalCount=1, hasMore=False, last=True),
    "when the next snapshot comes": in_json(nextUpdate="2026-03-02T07:00:00Z"),
    "itself": in_json(links={"self": FIRST, "last": FIRST, "first": FIRST}),
}


@pytest.fixture
def fleet(in_farm, machine):
    in_farm.machine(tag="T-08", serial="K-2")


def answer(body, handler, **headers):
    handler.answer(200, body, "application/octet-stream", **headers)


def read(source, provider, body, **headers):
    provider.special[FIRST] = partial(answer, body, **headers)
    for path in (SECOND, "/Fleet/2?a=1&b=2", "/Fleet/2?ids=4,5"):
        provider.special[path] = partial(answer, in_xml(n=2))
    good = telematics.read(source=source, forced=True, now=NOW)
    source.refresh_from_db()
    return good


@pytest.mark.parametrize("body", FOLLOWED.values(), ids=FOLLOWED)
def test_a_next_page_in_any_shape_is_read(fleet, source, provider, body):
    assert read(source, provider, body), source.error
    assert source.outcome == "2 pages, 2 units; hours: 2 counted."


@pytest.mark.parametrize(("name", "value"), HEADERS.items(), ids=HEADERS)
def test_so_it_is_in_a_header(fleet, source, provider, name, value):
    assert read(source, provider, in_json(), **{name.replace("-", "_"): value}), source.error
    assert Reading.objects.count() == 2


@pytest.mark.parametrize("body", MORE.values(), ids=MORE)
def test_more_that_cannot_be_followed_refuses_the_whole(fleet, source, provider, body):
    assert not read(source, provider, body)
    assert "Page 1 speaks of more (" in source.error
    assert Reading.objects.count() == 0


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("X-Total-Pages", "3"),
        ("X-Next-Page", "2"),
        ("X-Total-Count", "250"),
        ("Content-Range", "units 0-99/250"),
    ],
)
def test_so_it_does_in_a_header(fleet, source, provider, name, value):
    assert not read(source, provider, in_json(), **{name.replace("-", "_"): value})
    assert "speaks of more" in source.error


@pytest.mark.parametrize("body", LAST.values(), ids=LAST)
def test_the_last_page_is_known_as_such(fleet, source, provider, body):
    assert read(source, provider, body), source.error
    assert source.outcome.startswith("1 page, 1 unit;")


def test_a_header_of_several_links():
    assert of_header('</a,b>; rel=prev; x="1, 2", </c>; rel="next last"; title="a; b"') == {
        "prev": "/a,b",
        "next": "/c",
        "last": "/c",
    }


TWO_NEXT = {
    "pairs": in_xml(
        "<Links><rel>next</rel><href>/Fleet/2</href></Links><Links><rel>next</rel><href>/Fleet/3</href></Links>"
    ),
    "named twice": in_json(next="/Fleet/2", nextPage="/Fleet/3"),
    "in two shapes": in_json(
        links={"next": {"href": "/Fleet/2"}}, Links=[{"rel": "next", "href": "/Fleet/3"}]
    ),
}


@pytest.mark.parametrize("body", TWO_NEXT.values(), ids=TWO_NEXT)
def test_two_next_pages_are_a_part_of_the_fleet_alone(fleet, source, provider, body):
    assert not read(source, provider, body)
    assert "/Fleet/3" in source.error or "/Fleet/2" in source.error
    assert "Nothing was taken" in source.error
    assert Reading.objects.count() == 0


def test_a_header_that_names_another_next_page_is_not_passed_over(fleet, source, provider):
    assert not read(source, provider, in_json(next="/Fleet/2"), Link="</Fleet/3>; rel=next")
    assert Reading.objects.count() == 0


def test_the_same_next_page_said_twice_is_one(fleet, source, provider):
    body = in_json(next="/Fleet/2", links={"next": {"href": "2"}})
    assert read(source, provider, body, Link="</Fleet/2>; rel=next"), source.error
    assert Reading.objects.count() == 2
