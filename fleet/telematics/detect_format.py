"""One page of a snapshot as it comes in: XML or JSON, told apart by how it begins."""

from django.utils.translation import gettext as _

from fleet.telematics.json_snapshot import JsonForm
from fleet.telematics.limits import MEGABYTE, Limits
from fleet.telematics.server_words import MOST_BYTES
from fleet.telematics.snapshot import SentPage, SnapshotRefused
from fleet.telematics.unpacking import MAGIC, Unpacker
from fleet.telematics.xml_snapshot import XmlForm

MARKS = (b"\xef\xbb\xbf",)  # a UTF-8 text may begin with a byte order mark
WIDE = (b"\xff\xfe", b"\xfe\xff")  # UTF-16, which expat reads


class Document:
    """Takes bytes as they come and hands them to the reader of their form."""

    def __init__(self, limits: Limits, room: int) -> None:
        self._limits = limits
        self._room = room
        self._form: XmlForm | JsonForm | None = None
        self._begun = b""
        self.begun = b""
        """How it begins: what a server says in the place of a snapshot stands there."""
        self.size = 0
        """Bytes so far, unpacked."""
        self._first = b""  # until it is known whether it is packed
        self._unpacker: Unpacker | None = None

    def feed(self, data: bytes) -> None:
        """Read on. Raises SnapshotRefused."""
        if self._unpacker is None and not self.size:
            data = self._first = self._first + data
            if len(data) < len(MAGIC):
                return
            self._unpacker = Unpacker() if data.startswith(MAGIC) else None
        for unpacked in self._unpacker.unpack(data) if self._unpacker else [data]:
            self._take(unpacked)

    def _take(self, data: bytes) -> None:
        self.size += len(data)
        if self.size > self._limits.page_bytes:
            most = self._limits.page_bytes / MEGABYTE
            said = _("The page is larger than {most} MB; it was cut off there.")
            raise SnapshotRefused(said.format(most=f"{most:.0f}"))
        if len(self.begun) < MOST_BYTES:
            self.begun += data[:MOST_BYTES]
        if self._form is None:
            self._begun += data
            data = self._begun
            for mark in MARKS:
                data = data.removeprefix(mark)
            data = data.lstrip()
            if len(data) < 3:  # perhaps only half a mark has come
                return
            self._form = self._form_of(data)
        self._form.feed(data)

    def finish(self) -> SentPage:
        """Return the page. Raises SnapshotRefused."""
        if self._unpacker is not None:
            self._unpacker.finish()
        elif not self.size and self._first:
            self._take(self._first)
        if self._form is None:
            if self._begun.strip():
                raise SnapshotRefused(_("The server sent neither XML nor JSON."), foreign=True)
            raise SnapshotRefused(_("The server sent an empty answer."))
        return self._form.finish()

    def _form_of(self, data: bytes) -> XmlForm | JsonForm:
        if data.startswith((b"<", *WIDE)):
            return XmlForm(self._limits, self._room)
        if data.startswith((b"{", b"[")):
            return JsonForm(self._limits, self._room)
        raise SnapshotRefused(_("The server sent neither XML nor JSON."), foreign=True)
