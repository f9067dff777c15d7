"""What a test needs to know of an address: who may use it, what its ids name, and what may be sent to it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse, StreamingHttpResponse
from django.urls import reverse

from tests.doors.rows import Rows

ANYBODY_SIGNED_IN = ""
MACHINE = {"pk": "machine"}  # the keys of an address that names a machine
Path = tuple[str | int, ...]


def nothing(rows: Rows) -> dict[str, Any]:
    """An empty body."""
    return {}


@dataclass(frozen=True)
class Door:
    """One named address.

    get, post, patch: the right each needs; None where the method isn't offered.
    keys: which row each part of the address names; asks: the same for the query. words: the parts that name
    no row.
    body: what makes a writing method act on one's own rows; names_in_body: which entries of it name rows.
    unseen: who lacks the right isn't shown that the row exists. acts: a good body changes a table.
    """

    name: str
    get: str | None = None
    post: str | None = None
    patch: str | None = None
    keys: Mapping[str, str] = field(default_factory=dict)
    asks: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    body: Callable[[Rows], dict[str, Any]] = nothing
    names_in_body: Mapping[Path, str] = field(default_factory=dict)
    unseen: bool = False
    acts: bool = True
    multipart: bool = False

    @property
    def is_api(self) -> bool:
        """Whether it belongs to the API."""
        return self.name.startswith("api-")

    @property
    def names_rows(self) -> bool:
        """Whether its address names rows."""
        return bool(self.keys or self.asks)

    @property
    def methods(self) -> dict[str, str]:
        """The right that each offered method needs."""
        offered = (("get", self.get), ("post", self.post), ("patch", self.patch))
        return {method: right for method, right in offered if right is not None}

    @property
    def writes(self) -> str | None:
        """The method that writes; no address has two."""
        return next((method for method in self.methods if method != "get"), None)

    def address(self, rows: Rows) -> str:
        """Its address for these rows."""
        keys = {part: rows.key(name) for part, name in self.keys.items()}
        path = reverse(self.name, kwargs={**keys, **self.words})
        query = urlencode({part: rows.key(name) for part, name in self.asks.items()})
        return f"{path}?{query}" if query else path

    def address_of_nothing(self) -> str:
        """Its address with ids that nobody has."""
        unknown = {"path": "0/none.jpg"}
        path = reverse(self.name, kwargs={part: unknown.get(part, 987654321) for part in self.keys})
        query = urlencode(dict.fromkeys(self.asks, 987654321))
        return f"{path}?{query}" if query else path

    def client(self, rows: Rows, role: str) -> Any:
        """One who comes as the member with that role: over the API with a token, else in a browser."""
        return rows.with_token[role] if self.is_api else rows.browser(role)

    def send(
        self, client: Any, method: str, address: str, body: dict[str, Any] | None = None
    ) -> HttpResponse:
        """Use it by that method, with a body for all but GET."""
        if method == "get":
            answer = client.get(address)
        elif self.multipart:
            answer = getattr(client, method)(address, body or {}, format="multipart")
        elif self.is_api:
            answer = getattr(client, method)(address, body or {}, format="json")
        else:
            answer = getattr(client, method)(address, body or {})
        return read(answer)


def read(answer: HttpResponse) -> HttpResponse:
    """Read an answer that sends a file to its end, so that the file is closed."""
    if isinstance(answer, StreamingHttpResponse):
        list(answer.streaming_content)
    return answer


def with_other(body: dict[str, Any], path: Path, key: Any) -> dict[str, Any]:
    """The body with the entry at that path naming another row."""
    *way, last = path
    inside: Any = body
    for step in way:
        inside = inside[step]
    inside[last] = key
    return body
