"""The XML form of a fleet snapshot, read as it comes in: a page is never held whole."""

from xml.parsers import expat

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.telematics.limits import Limits
from fleet.telematics.snapshot import SentPage, SnapshotRefused, too_many_units, unit_of

NAMESPACES = {
    "http://standards.iso.org/iso/15143/-3",
    "http://www.jcmanet.or.jp/english2017/ISO/15143/-3/20190501",
    "http://schemas.aemp.org/fleet",  # version 1.2, the standard's forerunner
}
HALF = {
    expat.errors.codes[message]
    for message in (
        expat.errors.XML_ERROR_NO_ELEMENTS,
        expat.errors.XML_ERROR_UNCLOSED_TOKEN,
        expat.errors.XML_ERROR_PARTIAL_CHAR,
        expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    )
}
BETWEEN = " "  # expat puts it between a namespace and a name
HTML = gettext_lazy("The server sent a web page instead of a snapshot; check the address and the login.")
DTD = gettext_lazy(
    "The document declares entities or a document type, which a snapshot doesn't need; it was not read."
)


class XmlForm:
    """Reads one page: `feed` takes bytes as they come, `finish` says that these were all.

    A document type is refused where it begins, so no entity is ever expanded. Elements of other namespaces,
    and elements nobody asked for, are passed over.
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
        self._parts: dict[tuple[str, str], str] = {}
        self._link: dict[str, str] = {}
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
        return self.page

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
        raise SnapshotRefused(str(HTML if name.lower() == "html" else DTD))

    def _entity(self, *_told: object) -> None:
        raise SnapshotRefused(str(DTD))

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        namespace, _between, local = tag.rpartition(BETWEEN)
        if not self._path:
            self._begin(namespace, local)
        if len(self._path) >= self._limits.depth:
            raise SnapshotRefused(_("The document nests its elements deeper than a snapshot does."))
        self._path.append(local if namespace == self._namespace else "")
        self._text, self._length = [], 0
        if self._path == ["Fleet", "Equipment"]:
            if len(self.page.units) >= self._room:
                raise too_many_units(self._limits.units)
            self._parts = {}
        elif self._path == ["Fleet", "Links"]:
            self._link = {}
        elif len(self._path) == 3 and self._path[1] == "Equipment":
            for key in ("datetime", "dateTime"):  # one client library spells it so
                if key in attributes:
                    self._parts.setdefault((self._path[2].lower(), "datetime"), attributes[key])

    def _begin(self, namespace: str, local: str) -> None:
        if local.lower() == "html":
            raise SnapshotRefused(str(HTML))
        if local != "Fleet" or namespace not in NAMESPACES:
            said = (
                _("The document is a {element} of {namespace}, not a fleet snapshot.")
                if namespace
                else _("The document is a {element}, not a fleet snapshot.")
            )
            raise SnapshotRefused(said.format(element=local[:80], namespace=namespace[:200]))
        self._namespace = namespace

    def _characters(self, text: str) -> None:
        self._length += len(text)
        if self._length > self._limits.text:
            raise SnapshotRefused(_("A value in the document is longer than any of a snapshot."))
        self._text.append(text)

    def _end(self, tag: str) -> None:
        path, text = self._path, "".join(self._text)
        self._text, self._length = [], 0
        if len(path) == 4 and path[1] == "Equipment":
            self._parts.setdefault((path[2].lower(), path[3].lower()), text)
        elif len(path) == 3 and path[1] == "Links":
            self._link[path[2].lower()] = text.strip()
        elif path == ["Fleet", "Links"] and "rel" in self._link and "href" in self._link:
            self.page.links[self._link["rel"].lower()] = self._link["href"]
        elif path == ["Fleet", "Equipment"]:
            self.page.units.append(unit_of(self._parts))
        path.pop()
