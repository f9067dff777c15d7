"""Where a page says the next one is, in any of the shapes that servers write links in.

The standard's own is a list of pairs `rel` and `href`. Others nest each pair in a `Link`, name a member for
each relation, put the address into an attribute or a member beside the units, or send it as a header
(RFC 8288). All of a page but its units comes here as nested dictionaries and lists, an XML element's
attributes and children alike as members, names in lower case without their prefix, text as `TEXT`.
"""

import contextlib
import html
import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation

TEXT = "#text"
Node = object
"""A dictionary, a list, text, a Decimal, True, False or None."""

RELATIONS = {
    **dict.fromkeys(
        ("next", "nextpage", "nextlink", "nexturl", "nexthref", "nexturi", "nextpageurl"), "next"
    ),
    **dict.fromkeys(("nextpagelink", "nextpageuri", "odatanextlink", "nextpagehref"), "next"),
    **dict.fromkeys(("self", "current", "selflink", "currentpage"), "self"),
    **dict.fromkeys(("last", "lastpage", "lastlink", "lasturl", "lastpageurl"), "last"),
    **dict.fromkeys(("first", "prev", "previous", "firstpage", "prevpage", "previouspage"), "other"),
}
MORE = {
    *("truncated", "istruncated", "partial", "incomplete", "remaining", "ispartial", "moreresults"),
    *("hasmore", "hasnext", "hasnextpage", "more", "moreavailable", "hasmorepages", "morepages", "ismore"),
}
LAST = {"last", "islast", "lastpage", "islastpage", "complete", "iscomplete", "final"}
"""Where these are false, there is more."""
NO_PAGE = re.compile(r".*(?:update|snapshot|refresh|service|maintenance|poll|sync|read|run|report).*")
"""Names with `next` in them that speak of a time."""
TOKENS = {"nextpagetoken", "nexttoken", "nextcursor", "continuationtoken", "nextoffset", "nextpagenumber"}
AFTER = {"after", "continuation", "scrollid", "marker", "cursor", "endcursor", "pagetoken"}
"""Where the next page would begin; servers that write it on their last page, too, say there that it is so."""
OF_ALL = re.compile(r"\d+\s*(?:/|of|von|de|sur|van)\s*(\d+)", re.IGNORECASE)
PAGES_WORDS = (
    "totalpages, pagecount, pagestotal, numberofpages, totalnumberofpages, pages, lastpage, numpages, "
    "maxpage, totalpagecount, pagetotal"
)
PAGES = frozenset(PAGES_WORDS.split(", "))
UNITS_WORDS = (
    "totalcount, total, totalunits, totalelements, totalrecords, totalresults, totalitems, totalsize, "
    "recordstotal, totalmachines, machinecount, unitcount, itemcount, numberofunits, numberofrecords, "
    "totalrecordcount, totalresultcount, fleetsize, numberofmachines, totalassets, equipmentcount, count, "
    "recordcount, numberofequipment, totalequipment, totalequipmentcount"
)
UNITS = frozenset(UNITS_WORDS.split(", "))
LINKS = {"links", "link"}
OF_HEADERS = (RELATIONS.keys() | MORE | TOKENS | PAGES | UNITS) - {
    "count",
    "pages",
    "more",
    "partial",
    "current",
}
ADDRESS = ("href", "url", "uri", "address", "link", TEXT)
DEEP = 8
HEADER = re.compile(r"<([^>]*)>((?:\s*;\s*[^,;=\s]+\s*(?:=\s*(?:\"[^\"]*\"|[^;,\"]*))?)*)")
REL = re.compile(r";\s*rel\s*=\s*(?:\"([^\"]*)\"|([^;,\s]+))", re.IGNORECASE)


@dataclass
class Links:
    """What a page says of others.

    found: addresses as sent by their relation (next, self, last ...). more: what speaks of more without an
    address to follow, as sent. pages, units: how many there are in all, where it says so. strange: it has
    links of which none could be read. others: further addresses that are called the next page.
    """

    found: dict[str, str] = field(default_factory=dict)
    more: list[str] = field(default_factory=list)
    pages: int = 0
    units: int = 0
    strange: bool = False
    others: list[str] = field(default_factory=list)

    def add(self, relation: str, address: str) -> None:
        """Keep an address; a second one for the next page is told apart from the first."""
        if relation == "next" and self.found.get(relation, address) != address:
            self.others.append(address)
        self.found.setdefault(relation, address)


def read_links(tree: dict[str, object]) -> Links:
    """Read all that a page, without its units, says of others."""
    links = Links()
    understood = _walk(tree, links, 0)
    links.strange = not understood and any(_filled(tree.get(name)) for name in LINKS)
    return links


def of_header(header: str) -> dict[str, str]:
    """The addresses of a header Link by their relations (RFC 8288)."""
    found: dict[str, str] = {}
    for address, parameters in HEADER.findall(header):
        for quoted, bare in REL.findall(parameters):
            for rel in (quoted or bare).lower().split():
                found.setdefault(rel, address.strip())
    return found


def of_headers(headers: Iterable[tuple[str, str]]) -> Links:
    """What the headers of an answer say of other pages: Link, Content-Range, and those that begin with X-."""
    tree: dict[str, object] = {}
    found: dict[str, str] = {}
    for name, value in headers:
        bare = member(name)
        if bare == "link":
            found |= {rel: address for rel, address in of_header(value).items() if rel not in found}
        elif bare == "contentrange":
            tree["totalcount"] = value.rpartition("/")[2]
        elif bare in ("xpagination", "xpaging"):
            with contextlib.suppress(ValueError, RecursionError):
                told = json.loads(value)
                if isinstance(told, dict):
                    tree |= {member(str(key)): inside for key, inside in told.items()}
        elif bare.startswith("x"):
            tree[bare[1:].removeprefix("pagination")] = value
    links = read_links({name: value for name, value in tree.items() if name in OF_HEADERS})
    for rel, address in found.items():
        links.add(rel, address)
    links.found = found | links.found
    return links


def member(name: str) -> str:
    """The name of a member or element as it compares: `ns:NextPage`, `@nextPage` and `next_page` are one."""
    return re.sub(r"[^a-z0-9#]", "", name.rpartition(":")[2].lower())


def _walk(node: object, links: Links, depth: int) -> bool:
    """Read a node and what it holds; whether a link was understood, be it one that leads nowhere."""
    if depth > DEEP:
        return False
    if isinstance(node, list):
        understood = False
        for each in node:
            understood = _walk(each, links, depth + 1) or understood
        return understood
    if not isinstance(node, dict):
        return False
    understood = _pair(node, links)
    ended = any(name in MORE and not _is_so(value) for name, value in node.items())
    for name, value in node.items():
        if name in LAST and str(_plain(value)).strip().lower() in ("false", "no"):
            links.more.append(f"{name}: {_plain(value)}")
        elif name in RELATIONS and _relation(name, value, links):
            understood = True
        elif name in MORE and _is_so(value):
            links.more.append(f"{name}: {_plain(value)}"[:80])
        elif name == "pages" and isinstance(value, dict) and (pages := _count(value.get("total"))):
            links.pages = max(links.pages, pages)
        elif name in AFTER and not ended and _filled(value):
            links.more.append(f"{name}: {_plain(value)}"[:80])
        elif of_all := _of_all(name, value, node):
            links.pages = max(links.pages, of_all)
        elif name in TOKENS and (token := _plain(value)) not in (None, "", False):
            links.more.append(f"{name}: {token}"[:80])
        elif name in PAGES and (pages := _count(value)):
            links.pages = max(links.pages, pages)
        elif name in UNITS and (units := _count(value)):
            links.units = max(links.units, units)
        elif "next" in name and name not in RELATIONS and not NO_PAGE.fullmatch(name):
            understood = _named_next(name, value, links) or understood
        elif isinstance(value, dict | list):
            understood = _walk(value, links, depth + 1) or understood
    return understood


def _of_all(name: str, value: object, node: dict[str, object]) -> int:
    """How many pages there are, where it stands as `1 of 3` or as `of` beside the page; else 0."""
    if name == "of" and node.keys() & {"page", "current", "number", "currentpage", "pagenumber"}:
        return _count(value)
    if name in ("page", "pages", "pagenumber", "currentpage"):
        found = OF_ALL.fullmatch(str(_plain(value)).strip())
        return _count(found[1]) if found else 0
    return 0


def _is_so(value: object) -> bool:
    plain = str(_plain(value)).strip().lower()
    return plain in ("true", "yes") or (plain.isdigit() and int(plain[:9]) > 0)


def _named_next(name: str, value: object, links: Links) -> bool:
    """A member with another name that speaks of a next page, such as `urlOfNextPage`."""
    address = _address(value) if isinstance(value, dict) else _plain(value)
    if isinstance(address, str) and ("/" in address or "?" in address):
        links.add("next", html.unescape(address.strip()))
    elif _filled(value) and str(address).strip().lower() not in ("null", "none", "false", "0"):
        links.more.append(f"{name}: {address}"[:80])
    return True


def _pair(node: dict[str, object], links: Links) -> bool:
    """One link as a pair of relation and address."""
    rel = _plain(node.get("rel") or node.get("relation") or node.get("reltype"))
    if not isinstance(rel, str) or not rel.strip():
        named = (_plain(node.get("type")), _plain(node.get("name")))
        rel = next((each for each in named if isinstance(each, str) and member(each) in RELATIONS), "")
    if not rel:
        return False
    address = _address(node)
    for each in rel.lower().split():
        bare = member(each.rstrip("/").rpartition("/")[2])
        relation = RELATIONS.get(bare, "next" if "next" in bare else bare)
        if address:
            links.add(relation, address)
        elif address is None and relation == "next":
            links.more.append(f"rel: {rel}"[:80])
    return address is not None


def _relation(name: str, value: object, links: Links) -> bool:
    """A member that is called by the relation; False where it is something else."""
    relation = RELATIONS[name]
    if isinstance(value, list):
        read = False
        for each in value:
            read = _relation(name, each, links) or read
        return read
    address = _address(value) if isinstance(value, dict) else _plain(value)
    if isinstance(address, str) and re.fullmatch(r"\s*\d*\s*", address) and not isinstance(value, dict):
        address = Decimal(address) if address.strip() else ""
    if isinstance(address, str):
        if address.strip().lower() in ("", "null", "none", "false"):
            return True
        if "/" in address or "?" in address or isinstance(value, dict):
            links.add(relation, html.unescape(address.strip()))
        elif relation == "next":
            links.more.append(f"{name}: {address}"[:80])
        return True
    if isinstance(address, Decimal):
        if relation == "next" and address > 0:
            links.more.append(f"{name}: {address}")
        elif relation == "last" and (pages := _count(address)):
            links.pages = max(links.pages, pages)
        return relation == "next"
    if relation == "next" and address is not False and _filled(value):
        links.more.append(f"{name}: {address if isinstance(address, bool) else '...'}")
    return not _filled(value)


def _address(node: object) -> str | None:
    """The address of a link: '' where it is empty, None where there is none."""
    if not isinstance(node, dict):
        return None
    for name in ADDRESS:
        if name in node:
            value = _plain(node[name])
            if value is None:
                return ""
            if isinstance(value, str):
                return html.unescape(value.strip())
    return None


def _plain(value: object) -> object:
    """A value without the element around it; an empty element is ''."""
    if isinstance(value, list) and len(value) == 1:
        value = value[0]
    if isinstance(value, dict):
        return value.get(TEXT, value or "")
    return value


def _count(value: object) -> int:
    plain = _plain(value)
    try:
        number = Decimal(str(plain).strip())
    except (InvalidOperation, ValueError):
        return 0
    return int(number) if not isinstance(plain, bool) and number.is_finite() and 0 < number < 10**9 else 0


def _filled(value: object) -> bool:
    return any(_texts(value))


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        for each in value.values():
            yield from _texts(each)
    elif isinstance(value, list):
        for each in value:
            yield from _texts(each)
    elif value not in (None, "", False):
        yield str(value)
