"""What a server packs with gzip (RFC 1952) though nobody asked it to, unpacked a little at a time."""

import zlib
from collections.abc import Iterator

from django.utils.translation import gettext as _

from fleet.telematics.snapshot import SnapshotRefused

MAGIC = b"\x1f\x8b"
BLOCK = 64 * 1024  # bytes that are unpacked at a time
GZIP = zlib.MAX_WBITS | 16


class Unpacker:
    """Takes packed bytes as they come. Who takes what it gives counts it and ends it when it is too much."""

    def __init__(self) -> None:
        self._packed = zlib.decompressobj(GZIP)

    def unpack(self, data: bytes) -> Iterator[bytes]:
        """Give what is in them, in blocks. Raises SnapshotRefused."""
        while data:
            try:
                unpacked = self._packed.decompress(data, BLOCK)
            except zlib.error:
                said = _("The answer came compressed, and can't be unpacked: it is broken.")
                raise SnapshotRefused(said) from None
            if unpacked:
                yield unpacked
            data = self._packed.unconsumed_tail
            if self._packed.eof and (data := self._packed.unused_data):  # another part begins
                self._packed = zlib.decompressobj(GZIP)

    def finish(self) -> None:
        """Say that these were all. Raises SnapshotRefused where they were not."""
        if not self._packed.eof:
            raise SnapshotRefused(_("Only part of the document arrived."))
