"""The ZIP that a workbook is: judged by its own list before any of it is unpacked, then read part by part."""

import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO
from xml.parsers import expat

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.core.errors import FleetError
from fleet.imports.limits import (
    DEEPEST,
    LONGEST_TAG,
    MEGABYTE,
    MOST_DIRECTORY,
    MOST_PACKED,
    MOST_PARTS,
    MOST_STRINGS,
    MOST_UNPACKED,
)
from fleet.usage.figures import how_many

BROKEN = gettext_lazy("{name} can't be read as a workbook; save it again as XLSX, or as CSV.")
BLOCK = 64 * 1024
BETWEEN = " "  # expat puts it between a namespace and a name
END, END_BYTES = b"PK\x05\x06", 22  # of the list of parts (ZIP application note 4.3.16)
BIG_END, BIG_END_BYTES = b"PK\x06\x07", 20  # where a ZIP of more than 4 GB says more (4.3.15)
LONGEST_COMMENT = 65_535


class Elements:
    """Reads one XML part as it comes in; a kind of it says what elements mean.

    A document type is refused where it begins, so no entity is ever expanded.
    """

    namespaces: frozenset[str] = frozenset()

    def __init__(self, name: str) -> None:
        self.name = name  # the file's, for people
        self._depth = self._fed = 0
        self._parser = expat.ParserCreate(namespace_separator=BETWEEN)
        self._parser.buffer_text = True
        self._parser.StartDoctypeDeclHandler = self._doctype
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self.text

    def feed(self, data: bytes, *, last: bool = False) -> None:
        """Read on. Raises FleetError, and ExpatError for what is no XML."""
        self._fed += len(data)
        self._parser.Parse(data, last)
        # expat goes through an unfinished tag or comment from its beginning each time more of it comes
        if self._fed - self._parser.CurrentByteIndex > LONGEST_TAG:
            raise FleetError(BROKEN.format(name=self.name))

    def begin(self, element: str, attributes: dict[str, str]) -> None:
        """An element of a known namespace begins; one of any other is ''."""

    def end(self, element: str) -> None:
        """An element ends."""

    def text(self, text: str) -> None:
        """Some characters of the element that was begun last."""

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        if self._depth > DEEPEST:
            raise FleetError(BROKEN.format(name=self.name))
        namespace, _between, local = tag.rpartition(BETWEEN)
        self.begin(local if not namespace or namespace in self.namespaces else "", attributes)

    def _end(self, tag: str) -> None:
        self._depth -= 1
        namespace, _between, local = tag.rpartition(BETWEEN)
        self.end(local if not namespace or namespace in self.namespaces else "")

    def _doctype(self, *_told: object) -> None:
        said = _("{name} holds definitions that no workbook needs; save it again.")
        raise FleetError(said.format(name=self.name))


@contextmanager
def opened(path: Path, name: str) -> Iterator[zipfile.ZipFile]:
    """Open the ZIP once it was judged; whatever is wrong with it or its XML becomes one sentence."""
    try:
        with path.open("rb") as file:
            _check_directory(file, name)
            with zipfile.ZipFile(file) as book:
                _check_parts(book, name)
                yield book
    except (
        expat.ExpatError,
        zipfile.BadZipFile,
        zlib.error,
        NotImplementedError,  # packed in a way that Python doesn't know
        RuntimeError,
        LookupError,
        ValueError,
        EOFError,
        OSError,
    ) as error:
        raise FleetError(BROKEN.format(name=name)) from error


def blocks(book: zipfile.ZipFile, part: str) -> Iterator[bytes]:
    """Yield a part's bytes as they are unpacked; Python unpacks no more of it than the list says."""
    with book.open(part) as file:
        while block := file.read(BLOCK):
            yield block


def read_whole(book: zipfile.ZipFile, part: str, into: Elements) -> None:
    """Have a part read to its end."""
    for block in blocks(book, part):
        into.feed(block)
    into.feed(b"", last=True)


def _check_directory(file: BinaryIO, name: str) -> None:
    """Refuse a list of parts that would fill the memory while it is read. Where it ends: see END."""
    size = file.seek(0, 2)
    file.seek(max(0, size - LONGEST_COMMENT - END_BYTES - BIG_END_BYTES))
    tail = file.read()
    at = len(tail) - END_BYTES
    if tail[at : at + 4] != END:  # a comment follows it
        at = tail.rfind(END)
    if at < 0 or len(tail) - at < END_BYTES:
        raise FleetError(BROKEN.format(name=name))
    (length,) = struct.unpack_from("<L", tail, at + 12)
    if length > MOST_DIRECTORY or tail[max(0, at - BIG_END_BYTES) : at].startswith(BIG_END):
        raise FleetError(_too_many_parts(name))


def _check_parts(book: zipfile.ZipFile, name: str) -> None:
    """Refuse a workbook that would unpack to far more than it should, before any of it is unpacked."""
    parts = book.infolist()
    if len(parts) > MOST_PARTS:
        raise FleetError(_too_many_parts(name))
    if sum(part.file_size for part in parts) > MOST_UNPACKED:
        raise FleetError(unpacks_to_too_much(name))
    for part in parts:
        if part.flag_bits & 0x1:
            raise FleetError(_("{name} has a password. Save it without one.").format(name=name))
        packed = part.file_size > MOST_PACKED * max(part.compress_size, 1)
        if packed and part.file_size > MEGABYTE:
            said = _("{name} is compressed far more than a workbook should be. Save it as CSV.")
            raise FleetError(said.format(name=name))
        if part.filename.lower().endswith("sharedstrings.xml") and part.file_size > MOST_STRINGS:
            raise FleetError(_("{name} holds too much text; save it as CSV.").format(name=name))


def _too_many_parts(name: str) -> str:
    said = _("{name} has more than {most} parts; save it again as XLSX, or as CSV.")
    return said.format(name=name, most=how_many(MOST_PARTS))


def unpacks_to_too_much(name: str) -> str:
    """Say that a workbook holds more than is read."""
    said = _("{name} unpacks to more than {most} MB; save it as CSV.")
    return said.format(name=name, most=MOST_UNPACKED // MEGABYTE)
