"""The XML form of a fleet snapshot, read as it comes in: a page is never held whole."""

import re
from typing import Any
from xml.parsers import expat

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.telematics.limits import Limits
from fleet.telematics.links import TEXT, member, read_links
from fleet.telematics.sections import Section, add, settled
from fleet.telematics.snapshot import (
    SNAPSHOT_TIMES,
    SentPage,
    SnapshotRefused,
    too_many_units,
    unit_of,
)

NAMESPACES = re.compile(r"|.*(?:15143|standards\.iso\.org|\baemp?\b).*", re.IGNORECASE)
"""Those of the standard and of its forerunner in any year's, maker's or country's spelling, and none at all.

Seen: http://standards.iso.org/iso/15143/-3, http://www.jcmanet.or.jp/english2017/ISO/15143/-3/20190501 and
http://schemas.aemp.org/fleet, version 1.2, the standard's forerunner.
"""
HALF = {
    expat.errors.codes[message]
    for message in (
        expat.errors.XML_ERROR_NO_ELEMENTS,
        expat.errors.XML_ERROR_UNCLOSED_TOKEN,
        expat.errors.XML_ERROR_PARTIAL_CHAR,
        expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    )
}
UNIT = "equipment"
MOST_AROUND = 2  # elements around a unit: the fleet, and with some servers a list
OF_A_UNIT = {"equipmentheader", "cumulativeoperatinghours", "serialnumber"}
MOST_BESIDE = 10_000  # elements of a page that are not of its units
BETWEEN = " "  # expat puts it between a namespace and a name
HTML = gettext_lazy("The server sent a web page instead of a snapshot; check the address and the login.")
DTD = gettext_lazy(
    "The document declares entities or a document type, which a snapshot doesn't need; it was not read."
)


class XmlForm:
    """Reads one page: `feed` takes bytes as they come, `finish` says that these were all.

    A document type is refused where it begins, so no entity is ever expanded. A unit's elements of other
    namespaces, and elements nobody asked for, are passed over.
    """

    def __init__(self, limits: Limits, room: int) -> None:
        self.page = SentPage()
        self._limits = limits
        self._room = room  # units
        self._path: list[str] = []
        self._text: list[str] = []
        self._length = 0
        self._fed = 0
        self._namespace = ""
        self._snapshot_time = ""
        self._unit_at = 0  # how deep the unit stands that is being read; 0 between units
        self._strange_units = False  # what makes a unit, outside any
        self._passed_over = False  # units in a namespace that isn't the standard's
        self._sections: list[tuple[str, Section]] = []
        self._beside: list[dict[str, Any]] = []  # what stands beside the units, from the root to where we are
        self._nodes = 0
        self._parser = expat.ParserCreate(namespace_separator=BETWEEN)
        self._parser.buffer_text = True
        self._parser.StartDoctypeDeclHandler = self._doctype
        self._parser.EntityDeclHandler = self._entity
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._characters

    def feed(self, data: bytes) -> None:
        """Read on. Raises SnapshotRefused."""
        self._fed += len(data)
        self._parse(data, False)
        # expat goes through an unfinished tag or comment from its beginning each time more of it comes
        if self._fed - self._parser.CurrentByteIndex > self._limits.token_bytes:
            raise SnapshotRefused(_("A tag or comment in the document has no end; it was cut off."))

    def finish(self) -> SentPage:
        """Return the page. Raises SnapshotRefused when the document has not come to its end."""
        self._parse(b"", True)
        if self._passed_over and not self.page.units:
            raise SnapshotRefused(_("The document's units are in a namespace that isn't the standard's."))
        if self._strange_units and not self.page.units:
            raise SnapshotRefused(_("The document's units are in a form that can't be read."))
        links, page = read_links(self._beside[0]), self.page
        page.links, page.more, page.strange_links = links.found, links.more, links.strange
        page.other_pages = links.others
        page.pages, page.all_units = links.pages, links.units
        return page

    def _parse(self, data: bytes, last: bool) -> None:
        try:
            self._parser.Parse(data, last)
        except expat.ExpatError as error:
            if last and error.code in HALF:
                raise SnapshotRefused(_("Only part of the document arrived.")) from None
            why = expat.errors.messages.get(error.code) or _("not XML")
            said = _("The XML is broken in line {line}: {why}.").format(line=error.lineno, why=why)
            raise SnapshotRefused(said) from None
        except (LookupError, ValueError) as error:  # an encoding that Python doesn't have
            raise SnapshotRefused(_("The XML is written in an encoding that can't be read.")) from error

    def _doctype(self, name: str, *_told: object) -> None:
        raise SnapshotRefused(str(HTML if name.lower() == "html" else DTD), foreign=name.lower() == "html")

    def _entity(self, *_told: object) -> None:
        raise SnapshotRefused(str(DTD))

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        namespace, _between, local = tag.rpartition(BETWEEN)
        if not self._path:
            self._begin(namespace, local, attributes)
        if len(self._path) >= self._limits.depth:
            raise SnapshotRefused(_("The document nests its elements deeper than a snapshot does."))
        known = namespace == self._namespace or NAMESPACES.fullmatch(namespace)
        name = member(local)
        is_unit = name == UNIT and not self._unit_at and 1 <= len(self._path) <= MOST_AROUND
        foreign_unit = is_unit and not known
        self._passed_over |= foreign_unit
        self._path.append("" if foreign_unit or (self._unit_at and not known) else name)
        self._text, self._length = [], 0
        if is_unit and known:
            self._unit_at = len(self._path)
            if len(self.page.units) >= self._room:
                raise too_many_units(self._limits.units)
            self._section("", attributes, anew=True)
        elif self._unit_at:
            depth = len(self._path) - self._unit_at
            if depth == 1 and self._path[-1]:
                self._section(self._path[-1], attributes)
            elif depth == 2 and self._path[-2] and self._path[-1]:  # a unit of measure, or a time
                for key, value in attributes.items():
                    add(self._sections[-1][1], _local(key), value, beside=True)
        else:
            self._nodes += 1
            if self._nodes > MOST_BESIDE:
                raise SnapshotRefused(_("The document holds more beside its units than a snapshot does."))
            self._strange_units |= name in OF_A_UNIT
            node: dict[str, Any] = {_local(key): value for key, value in attributes.items()}
            if self._beside:
                self._beside[-1].setdefault(name, []).append(node)
            self._beside.append(node)

    def _section(self, name: str, attributes: dict[str, str], *, anew: bool = False) -> None:
        """Begin a section with its attributes; anew: the first of a unit."""
        section: Section = {}
        for key, value in attributes.items():
            add(section, _local(key), value)
        if anew:
            self._sections = []
        self._sections.append((name, section))

    def _begin(self, namespace: str, local: str, attributes: dict[str, str]) -> None:
        if local.lower() == "html":
            raise SnapshotRefused(str(HTML), foreign=True)
        if local.lower() != "fleet" or not NAMESPACES.fullmatch(namespace):
            said = (
                _("The document is a {element} of {namespace}, not a fleet snapshot.")
                if namespace
                else _("The document is a {element}, not a fleet snapshot.")
            )
            said = said.format(element=local[:80], namespace=namespace[:200])
            raise SnapshotRefused(said, foreign=True)
        self._namespace = namespace
        for key, value in attributes.items():
            if _local(key) in SNAPSHOT_TIMES:
                self._snapshot_time = value

    def _characters(self, text: str) -> None:
        self._length += len(text)
        if self._length > self._limits.text:
            raise SnapshotRefused(_("A value in the document is longer than any of a snapshot."))
        self._text.append(text)

    def _end(self, tag: str) -> None:
        path, text = self._path, "".join(self._text)
        self._text, self._length = [], 0
        if self._unit_at == len(path):
            self._unit_at = 0
            sections = [(name, settled(values)) for name, values in self._sections]
            self.page.units.append(unit_of(sections, self._snapshot_time))
        elif self._unit_at:
            depth = len(path) - self._unit_at
            if depth == 2 and path[-2] and path[-1]:
                add(self._sections[-1][1], path[-1], text)
            elif depth == 1 and path[-1] and text.strip():
                add(self._sections[-1][1], "", text)
        else:
            node = self._beside[-1] if len(self._beside) == 1 else self._beside.pop()
            if text.strip():
                node[TEXT] = text.strip()
                if len(path) == 2 and path[-1] in SNAPSHOT_TIMES:
                    self._snapshot_time = text.strip()
        path.pop()


def _local(key: str) -> str:
    """The name of an attribute as it compares, without its namespace."""
    return member(key.rpartition(BETWEEN)[2])
