"""Every address there is: what the project's urls and the API's own document name."""

from collections.abc import Iterator
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver
from drf_spectacular.generators import SchemaGenerator

from tests.doors.api import API, FORMER
from tests.doors.pages import PAGES

DOORS = {door.name: door for door in [*PAGES, *API, *FORMER]}
OPERATORS = "admin/"


def patterns(resolver: Any = None, before: str = "") -> Iterator[tuple[str, URLPattern]]:
    """Yield each pattern of the project with its whole route; not those of the operator's admin."""
    for each in (resolver or get_resolver()).url_patterns:
        route = before + str(each.pattern)
        if route.startswith(OPERATORS):
            continue
        if isinstance(each, URLResolver):
            yield from patterns(each, route)
        else:
            yield route, each


def operations() -> set[tuple[str, str]]:
    """Return each route of the API's document with each method it offers."""
    document = SchemaGenerator().get_schema(request=None, public=True)
    return {(path.lstrip("/"), method) for path, item in document["paths"].items() for method in item}
