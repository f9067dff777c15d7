"""Gets one page of a snapshot: streamed, within limits, redirects judged hop by hop."""

import http.client
from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import SplitResult, urljoin

from django.utils.translation import gettext as _

from fleet.telematics import allowed_addresses
from fleet.telematics.detect_format import Document
from fleet.telematics.http_client import Line
from fleet.telematics.limits import MEGABYTE, Limits
from fleet.telematics.public_addresses import Network
from fleet.telematics.snapshot import SentPage, SnapshotRefused

BLOCK = 64 * 1024
MOVED = {301, 302, 303, 307, 308}
LONGEST_WAIT = 24 * 3600.0


@dataclass(frozen=True, slots=True)
class Login:
    """How a source lets one in: kind is none, basic or bearer. secret: the password or token."""

    kind: str = "none"
    username: str = ""
    secret: str = ""

    def header(self) -> dict[str, str]:
        """The header that carries it."""
        if self.kind == "basic":
            both = b64encode(f"{self.username}:{self.secret}".encode()).decode()
            return {"Authorization": f"Basic {both}"}
        return {"Authorization": f"Bearer {self.secret}"} if self.kind == "bearer" else {}


class Getter:
    """Gets the pages of one snapshot. The login goes to the origin of `url` alone, whoever leads on."""

    def __init__(self, url: str, login: Login, *, limits: Limits, inside: Sequence[Network] = ()) -> None:
        self._login = login
        self._limits = limits
        self._inside = inside
        self._origin = allowed_addresses.origin_of(allowed_addresses.parts_of(url, plain=inside))
        self._line = Line(limits=limits, inside=inside)
        self._left = limits.all_bytes

    def get(self, url: str, *, room: int) -> tuple[SentPage, str]:
        """Return the page and the address it came from in the end. room: units that may still come.

        Raises SnapshotRefused.
        """
        secure = False
        for _hop in range(self._limits.redirects + 1):
            parts = allowed_addresses.parts_of(url, plain=self._inside)
            if secure and parts.scheme != "https":
                raise SnapshotRefused(_("The server redirects from https to http."))
            secure = parts.scheme == "https"
            with self._line.ask(parts, self._headers(parts)) as answer:
                if answer.status not in MOVED:
                    return self._read(answer, room), url
                location = answer.getheader("Location")
            if not location:
                raise SnapshotRefused(_("The server redirects without saying where."))
            url = urljoin(url, location)
        said = _("The server redirects more than {most} times.").format(most=self._limits.redirects)
        raise SnapshotRefused(said)

    def _headers(self, parts: SplitResult) -> dict[str, str]:
        headers = {"Accept": "application/xml, text/xml;q=0.9, application/json;q=0.8"}
        return headers | (self._login.header() if allowed_addresses.origin_of(parts) == self._origin else {})

    def _read(self, answer: http.client.HTTPResponse, room: int) -> SentPage:
        if answer.status != 200:
            raise _status(answer)
        if answer.getheader("Content-Encoding", "identity").lower() != "identity":
            raise SnapshotRefused(_("The server compresses its answer though we asked it not to."))
        document = Document(self._limits, room)
        while block := answer.read1(BLOCK):
            self._left -= len(block)
            if self._left < 0:
                most = self._limits.all_bytes / MEGABYTE
                said = _("The snapshot is larger than {most} MB; it was cut off there.")
                raise SnapshotRefused(said.format(most=f"{most:.0f}"))
            document.feed(block)
            if late := self._line.late():
                raise SnapshotRefused(late)
        if late := self._line.late():
            raise SnapshotRefused(late)
        if answer.length:
            raise SnapshotRefused(_("Only part of the document arrived: the connection closed early."))
        return document.finish()


def _status(answer: http.client.HTTPResponse) -> SnapshotRefused:
    status = answer.status
    if status in (401, 403):
        return SnapshotRefused(
            _("The server refuses the login ({status}). Check user name and password or token.").format(
                status=status
            ),
            wrong_login=True,
        )
    if status in (404, 410):
        said = _("The server has nothing at this address ({status}).")
        return SnapshotRefused(said.format(status=status))
    if status in (429, 503):
        asked = answer.getheader("Retry-After", "")
        wait = min(float(asked), LONGEST_WAIT) if asked.isascii() and asked.isdigit() else None
        said = _("The server asks us to wait ({status}).")
        return SnapshotRefused(said.format(status=status), retry_after=wait)
    if status >= 500:
        said = _("The server reports an error of its own ({status}).")
        return SnapshotRefused(said.format(status=status))
    said = _("The server answered {status} instead of a snapshot.")
    return SnapshotRefused(said.format(status=status))
