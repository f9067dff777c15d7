"""Bodies that carry readings: JSON, a JSON value a line, or CSV; packed by gzip or not."""

import hashlib
import io
import json
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import IO, Any, NoReturn

from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser
from rest_framework.request import Request

from fleet.api.errors import MalformedLines, TooLarge, WrongCoding, not_utf_8
from fleet.core import csv_reader
from fleet.core.json_limits import TooMuch, check_json
from fleet.readings.submission import Submitted, Unreadable
from fleet.usage.figures import how_many

MOST_ROWS = 5000
MOST_BYTES = 8 * 1024 * 1024
MOST_VALUES = 40 * MOST_ROWS  # in JSON
MOST_LINES = 20 * MOST_ROWS  # of text, blank ones and those within a quoted note included
LONGEST_ROW = 64 * 1024  # characters of a row of CSV
MOST_LINES_TOLD = 20
MOST_MEMBERS = 64  # packed by gzip one after the other
GZIP = 31  # zlib's window bits for the gzip format alone
COLUMNS = ("machine", "taken_at", "meter", "client_id", "note")
FORMER_METER = "shows"  # what the version before called `meter`


@dataclass(frozen=True, slots=True)
class Sent:
    """What a request brought: rows, and a fingerprint (SHA-256) of the unpacked body they were in."""

    rows: list[Submitted]
    fingerprint: str


def received(request: Request) -> Sent:
    """Read the request's body by the parser of its media type. Raises what RowsParser does."""
    sent = request.data
    if not isinstance(sent, Sent):
        raise ParseError(_("The request has no body. Send the readings in it."))
    return sent


class RowsParser(BaseParser):
    """Reads a body within its limits; `rows` says how the text of this media type becomes rows."""

    def parse(  # type: ignore[override]  # DRF hands on whatever a parser returns
        self, stream: IO[bytes], media_type: str | None = None, parser_context: Any = None
    ) -> Sent:
        """Raises ParseError, MalformedLines, TooLarge and WrongCoding: all before any work."""
        body = unpacked(stream, parser_context["request"])
        charset = _charset(media_type or "")
        if charset not in ("utf-8", "us-ascii", "utf8"):
            raise WrongCoding(_("The body is in {charset}; send it in UTF-8.").format(charset=charset))
        try:
            text = body.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise not_utf_8(error) from None
        self.check(text)
        rows = self.rows(text)
        if len(rows) > MOST_ROWS:
            sentence = _("Send at most {most} readings at once; these are {number}.")
            raise TooLarge(sentence.format(most=how_many(MOST_ROWS), number=how_many(len(rows))))
        fingerprint = hashlib.sha256(f"{self.media_type}\n".encode() + body).hexdigest()
        return Sent(rows, fingerprint)

    def check(self, text: str) -> None:
        """Refuse a text that would become too many objects. Raises TooLarge."""
        if text.count("\n") > MOST_LINES:
            sentence = _("Send at most {most} lines at once, blank ones included.")
            raise TooLarge(sentence.format(most=how_many(MOST_LINES)))

    def rows(self, text: str) -> list[Submitted]:
        """Return what the text says, a row each."""
        raise NotImplementedError


class JsonRows(RowsParser):
    """`{"readings": [...]}`, a bare list, or one reading."""

    media_type = "application/json"

    def check(self, text: str) -> None:
        _check_values(text)

    def rows(self, text: str) -> list[Submitted]:
        """Raises ParseError."""
        try:
            body = _json(text)
        except ValueError as error:
            raise ParseError(_("The body is not JSON: {reason}.").format(reason=error)) from None
        if isinstance(body, dict):
            body = body.get("readings", [body] if "machine" in body else None)
        if not isinstance(body, list):
            sentence = _('Send {"readings": [...]}, a list of readings, or one reading with its machine.')
            raise ParseError(sentence)
        return [_row(row) for row in body]


class LinedRows(RowsParser):
    """A reading as JSON on each line; empty lines are passed over."""

    media_type = "application/x-ndjson"

    def check(self, text: str) -> None:
        super().check(text)
        _check_values(text, lined=True)

    def rows(self, text: str) -> list[Submitted]:
        rows: list[Submitted] = []
        wrong: list[tuple[int, str]] = []
        for number, line in enumerate(text.split("\n"), start=1):
            if not line.strip():
                continue
            try:
                row = _json(line)
            except ValueError as error:
                wrong.append((number, _("This is not JSON: {reason}.").format(reason=error)))
            else:
                if isinstance(row, dict):
                    rows.append(_row(row))
                else:
                    wrong.append((number, _("A line must be one reading: {...}.")))
            if len(rows) > MOST_ROWS:
                raise _too_many()
        return _unless(wrong, rows)


class CsvRows(RowsParser):
    """A first line that names the columns, then a reading on each line (RFC 4180)."""

    media_type = "text/csv"

    def rows(self, text: str) -> list[Submitted]:
        lines = _each(text)
        columns = [name.strip().lower() for name in next(lines, (1, []))[1]]
        _check_columns(columns)
        rows: list[Submitted] = []
        wrong: list[tuple[int, str]] = []
        for begins, cells in lines:
            if len(cells) == len(columns):
                rows.append(_row(dict(zip(columns, cells, strict=True))))
            elif cells:
                wrong.append((begins, _other_width(len(cells), len(columns))))
            if len(rows) > MOST_ROWS:
                raise _too_many()
        return _unless(wrong, rows)


def unpacked(stream: IO[bytes], request: Request) -> bytes:
    """Read the request's body, unpacked when it came as gzip; never more than MOST_BYTES of it."""
    if int(request.META.get("CONTENT_LENGTH") or 0) > MOST_BYTES:
        _too_big()
    coding = request.headers.get("Content-Encoding", "identity").strip().lower()
    if coding not in ("identity", "gzip", "x-gzip"):
        sentence = _("The body comes as {coding}; send it plain or as gzip.").format(coding=coding)
        raise WrongCoding(sentence, accepted="gzip, identity")
    body: bytes = stream.read(MOST_BYTES + 1)
    if coding != "identity":
        body = _gunzipped(body)
    if len(body) > MOST_BYTES:
        _too_big()
    return body


def _gunzipped(packed: bytes) -> bytes:
    """Unpack what may be several gzip members end to end (RFC 1952, 2.2); stops beyond MOST_BYTES."""
    parts: list[bytes] = []
    room = MOST_BYTES + 1
    try:
        while packed and room > 0:
            if len(parts) == MOST_MEMBERS:
                sentence = _("The gzip body has more than {most} members; pack it in one.")
                raise ParseError(sentence.format(most=MOST_MEMBERS))
            unpacker = zlib.decompressobj(GZIP)
            parts.append(unpacker.decompress(packed, room))
            room -= len(parts[-1])
            if room > 0 and not unpacker.eof:
                raise ParseError(_("The gzip body ends in the middle."))
            packed = unpacker.unused_data
    except zlib.error as error:
        raise ParseError(_("The body is not gzip: {reason}.").format(reason=error)) from None
    return b"".join(parts)


def _charset(media_type: str) -> str:
    for part in media_type.split(";")[1:]:
        name, _is, value = part.partition("=")
        if name.strip().lower() == "charset":
            return value.strip().strip('"').lower()
    return "utf-8"


def _json(text: str) -> Any:
    """Read JSON; numbers stay as they were written. Raises ValueError."""
    try:
        return json.loads(text, parse_float=Decimal, parse_constant=_no_number)
    except RecursionError:
        raise ValueError(_("it is nested too deeply")) from None
    except ArithmeticError:
        raise ValueError(_("it holds a number that is too large")) from None


def _no_number(name: str) -> NoReturn:
    raise ValueError(_("{name} is not JSON").format(name=name))


def _row(row: Any) -> Submitted:
    sent = row if isinstance(row, dict) else {}
    get, meter = sent.get, sent.get("meter")
    if FORMER_METER in sent:
        meter = sent[FORMER_METER]
        if "meter" in sent:
            reason = _("`shows` is the former name of `meter`; send one of them.")
            meter = Unreadable("unreadable_hours", reason)
    return Submitted(get("machine"), get("taken_at"), meter, get("client_id"), get("note"))


def _check_columns(named: list[str]) -> None:
    columns = ["meter" if name == FORMER_METER else name for name in named]
    unknown = [name for name in columns if name not in COLUMNS]
    missing = [name for name in COLUMNS[:3] if name not in columns]
    if unknown:
        sentence = _("The first line names the columns {columns}, the last two optional; unknown: {names}.")
    elif missing:
        sentence = _("The first line names the columns {columns}, the last two optional; missing: {names}.")
    elif {"meter", FORMER_METER} <= set(named):
        sentence = _(
            "The first line names the columns {columns}, the last two optional; "
            "shows is the former name of meter, name one of them."
        )
    elif len(set(columns)) < len(columns):
        sentence = _("The first line names the columns {columns}, the last two optional; one is there twice.")
    else:
        return
    names = ", ".join(unknown or missing)[:200]
    raise MalformedLines([(1, sentence.format(columns=", ".join(COLUMNS), names=names))])


def _each(text: str) -> Iterator[tuple[int, list[str]]]:
    """The line on which each row begins, and its cells. Raises MalformedLines."""
    file = io.StringIO(text, newline="")
    try:
        for begins, _ends, cells in csv_reader.records(file, longest=LONGEST_ROW, strict=True):
            yield begins, cells
    except csv_reader.Unreadable as error:
        raise MalformedLines([(error.line, _("The body {does}.").format(does=error))]) from None


def _check_values(text: str, *, lined: bool = False) -> None:
    try:
        check_json(text, most=MOST_VALUES, lined=lined)
    except TooMuch as error:
        raise TooLarge(_("The body {does}.").format(does=error)) from None


def _unless(wrong: list[tuple[int, str]], rows: list[Submitted]) -> list[Submitted]:
    if wrong:
        raise MalformedLines(wrong[:MOST_LINES_TOLD], more=len(wrong) - MOST_LINES_TOLD)
    return rows


def _too_many() -> TooLarge:
    sentence = _("Send at most {most} readings at once; there are more lines.")
    return TooLarge(sentence.format(most=how_many(MOST_ROWS)))


def _other_width(cells: int, named: int) -> str:
    said = ngettext(
        "This line has {cells} cell; the first line names {named}.",
        "This line has {cells} cells; the first line names {named}.",
        cells,
    )
    return said.format(cells=cells, named=named)


def _too_big() -> NoReturn:
    sentence = _("Send at most {megabytes} MB at once, unpacked.")
    raise TooLarge(sentence.format(megabytes=MOST_BYTES // 1024**2))
