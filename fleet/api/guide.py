"""The API's document as people read it: routes by what they are about, and what each takes and answers.

Nothing is said here that the OpenAPI document doesn't say, so the page can't fall behind what is served.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, reduce
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import get_language, pgettext_lazy
from django.utils.translation import gettext as _

from fleet.api.schema import EnglishGenerator
from fleet.api.who_may import WHO

KINDS: dict[tuple[str, str], str | Promise] = {
    ("integer", ""): pgettext_lazy("kind of value", "whole number"),
    ("number", ""): pgettext_lazy("kind of value", "number"),
    ("boolean", ""): pgettext_lazy("kind of value", "true or false"),
    ("string", "date"): pgettext_lazy("kind of value", "day, as 2026-05-03"),
    ("string", "date-time"): pgettext_lazy("kind of value", "moment, ISO 8601"),
    ("string", "decimal"): pgettext_lazy("kind of value", "number, written as text"),
    ("string", "binary"): pgettext_lazy("kind of value", "file"),
    ("string", "uri"): pgettext_lazy("kind of value", "address"),
}
KINDS_BY_TYPE: dict[str, str | Promise] = {
    "object": pgettext_lazy("kind of value", "object"),
    "string": pgettext_lazy("kind of value", "text"),
}
SENT = "Request"  # the end of the name of an object that is sent
REFUSED = 400  # statuses from here on are refusals
TOLD_BY_VALUES = re.compile(r"\n*^\* `.*", re.S | re.M)  # the list that repeats a field's values


@dataclass(frozen=True)
class Named:
    """A filter, a field or an answer. `of`: the object it holds, if any; `needed`: it must be given."""

    name: str
    kind: str
    says: str
    needed: bool = False
    of: str = ""


@dataclass(frozen=True)
class Body:
    """One kind of body that a route takes."""

    media: str
    holds: Named


@dataclass(frozen=True)
class Route:
    """One method of one address."""

    method: str
    path: str
    says: list[str]
    who: str
    parameters: list[Named]
    bodies: list[Body]
    answers: list[Named]
    refusals: list[int]


@dataclass(frozen=True)
class Example:
    """A call that works where its ids exist. `title` begins with its place among them; body: JSON or ""."""

    title: str
    method: str
    address: str
    body: str


@dataclass(frozen=True)
class Group:
    """The routes about one thing."""

    name: str
    routes: list[Route]

    @property
    def key(self) -> str:
        """The end of its place in the page's address."""
        return self.name.lower().replace(" ", "-")


@dataclass(frozen=True)
class Thing:
    """An object that is sent or answered, with its fields."""

    name: str
    says: str
    fields: list[Named]


@dataclass(frozen=True)
class Guide:
    """The whole document."""

    says: str
    groups: list[Group]
    things: list[Thing]
    refusals: list[tuple[int, str]]
    examples: list[Example]


def guide() -> Guide:
    """Return the document that `/api/v1/schema` sends, read for people: what it says itself is English."""
    return _in(get_language() or "")


@cache
def _in(_language: str) -> Guide:
    """Return it with the words between in the language that is spoken."""
    return read(EnglishGenerator().get_schema(request=None, public=True))


def read(document: dict[str, Any]) -> Guide:
    """Return an OpenAPI 3.0 document read for people."""
    schemas = document["components"]["schemas"]
    values = Values(schemas)
    groups: dict[str, list[Route]] = {}
    refusals: dict[int, str] = {}
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            groups.setdefault(operation["tags"][0], []).append(_route(path, method, operation, values))
            refusals |= {
                int(status): answer["description"]
                for status, answer in operation["responses"].items()
                if int(status) >= REFUSED
            }
    return Guide(
        says=document["info"]["description"],
        groups=[Group(name.replace("-", " ").capitalize(), routes) for name, routes in groups.items()],
        things=[
            Thing(name, _says(schema), list(_fields(name, schema, values)))
            for name, schema in sorted(schemas.items())
            if schema.get("type") == "object"
        ],
        refusals=sorted(refusals.items()),
        examples=sorted(examples_of(document), key=lambda example: example.title),
    )


def examples_of(document: dict[str, Any]) -> Iterator[Example]:
    """The calls that the document gives as examples: by a filter's value, or by a body."""
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            address, titles = path, []
            for each in operation.get("parameters", ()):
                for held in each.get("examples", {}).values():
                    if each["in"] == "path":
                        address = address.replace(f"{{{each['name']}}}", str(held["value"]))
                    else:
                        address += f"?{each['name']}={held['value']}"
                        titles.append((held["summary"], ""))
            for content in operation.get("requestBody", {}).get("content", {}).values():
                for held in content.get("examples", {}).values():
                    titles.append((held["summary"], json.dumps(held["value"], indent=2)))
            for title, body in titles:
                yield Example(title, method.upper(), address, body)


def _route(path: str, method: str, operation: dict[str, Any], values: "Values") -> Route:
    content = operation.get("requestBody", {}).get("content", {})
    statuses = sorted((int(status), answer) for status, answer in operation["responses"].items())
    return Route(
        method=method.upper(),
        path=path,
        says=[" ".join(part.split()) for part in operation.get("description", "").split("\n\n")],
        who=", ".join(_(who) for who in operation[WHO]),  # roles, whose labels are messages
        parameters=[
            values.named(each["name"], each["schema"], says=_says(each), needed=each.get("required", False))
            for each in operation.get("parameters", ())
        ],
        bodies=[Body(media, values.named("", held["schema"])) for media, held in content.items()],
        answers=[
            values.named(str(status), held["schema"], says=answer["description"])
            for status, answer in statuses
            if status < REFUSED
            for held in answer.get("content", {"": {"schema": {}}}).values()
        ],
        refusals=[status for status, _ in statuses if status >= REFUSED],
    )


def _fields(thing: str, schema: dict[str, Any], values: "Values") -> Iterator[Named]:
    """The fields of an object; what an answer always has isn't needed of anybody."""
    needed = schema.get("required", ()) if thing.endswith(SENT) else ()
    for name, held in schema.get("properties", {}).items():
        yield values.named(name, held, says=_says(held), needed=name in needed)


class Values:
    """What values are, in words. `schemas`: those of the document, by their names."""

    def __init__(self, schemas: dict[str, Any]) -> None:
        self._schemas = schemas

    def named(self, name: str, schema: dict[str, Any], *, says: str = "", needed: bool = False) -> Named:
        """Return a value with its name and what is said of it."""
        kind, of = self.kind(schema)
        said = says or _says(schema)
        return Named(name, kind, said[:1].upper() + said[1:], needed, of)

    def kind(self, schema: dict[str, Any]) -> tuple[str, str]:
        """Return what a value is, and the object it holds; "" for what isn't known, and for none."""
        if reference := schema.get("$ref"):
            name = reference.rsplit("/", 1)[-1]
            meant = self._schemas[name]
            return ("", name) if meant.get("type") == "object" else self.kind(meant)
        for together in ("allOf", "oneOf", "anyOf"):
            if parts := schema.get(together):
                kinds = [self.kind(part) for part in parts]
                words = [kind for kind, _of in kinds if kind]
                of = next((of for _kind, of in kinds if of), "")
                return (_null_too(schema, reduce(_or, words)) if words else ""), of
        if choices := _choices(schema):
            return _null_too(schema, _("one of {choices}").format(choices=choices)), ""
        if schema.get("type") == "array":
            items = schema.get("items", {})
            if choices := _choices(items):
                return _("one or more of {choices}").format(choices=choices), ""
            kind, of = self.kind(items)
            return _("list of {things}").format(things=kind).strip(), of
        usual = KINDS_BY_TYPE.get(schema.get("type", ""), "")
        said = KINDS.get((schema.get("type", ""), schema.get("format", "")), usual)
        return _null_too(schema, str(said)), ""


def _null_too(schema: dict[str, Any], said: str) -> str:
    return _or(said, "null") if schema.get("nullable") else said


def _or(one: str, other: str) -> str:
    return _("{one} or {other}").format(one=one, other=other)


def _choices(schema: dict[str, Any]) -> str:
    """Return the values there are; not those that only turn an order round."""
    values = [value for value in schema.get("enum", ()) if value not in ("", None)]
    turned = {f"-{value}" for value in values}
    return ", ".join(f"`{value}`" for value in values if value not in turned)


def _says(described: dict[str, Any]) -> str:
    """Return the description, without the list that repeats the values."""
    return " ".join(TOLD_BY_VALUES.sub("", described.get("description", "")).split())
