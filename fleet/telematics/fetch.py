"""Gets one page of a snapshot: streamed, within limits, redirects judged hop by hop."""

import http.client
from base64 import b64encode
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from urllib.parse import SplitResult, urljoin

from django.utils.translation import gettext as _

from fleet.telematics import allowed_addresses
from fleet.telematics.detect_format import Document
from fleet.telematics.http_client import Line
from fleet.telematics.limits import MEGABYTE, Limits
from fleet.telematics.links import of_headers
from fleet.telematics.public_addresses import Network
from fleet.telematics.server_words import MOST_BYTES, said_by, wait_of
from fleet.telematics.snapshot import SentPage, SnapshotRefused

BLOCK = 64 * 1024
MOVED = {301, 302, 303, 307, 308}


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

    def __init__(
        self,
        url: str,
        login: Login,
        *,
        limits: Limits,
        inside: Sequence[Network] = (),
        renewed: Callable[[], Login] | None = None,
    ) -> None:
        """renewed: gets a new login in the place of one that ended between two pages."""
        self._login = login
        self._renewed = renewed
        self._was_good = False  # since it was last renewed
        self._limits = limits
        self._inside = inside
        self._origin = allowed_addresses.origin_of(allowed_addresses.parts_of(url, plain=inside))
        self._line = Line(limits=limits, inside=inside)
        self._left = limits.all_bytes

    def get(self, url: str, *, room: int, later: bool = False) -> tuple[SentPage, str]:
        """Return the page and the address it came from in the end. room: units that may still come. later:
        pages came before it, so that there may be none left.

        Raises SnapshotRefused.
        """
        secure = False
        for _hop in range(self._limits.redirects + 1):
            parts = allowed_addresses.parts_of(url, plain=self._inside)
            if secure and parts.scheme != "https":
                raise SnapshotRefused(_("The server redirects from https to http."))
            secure = parts.scheme == "https"
            with self._line.ask(parts, self._headers(parts)) as answer:
                ended = self._was_good and self._renewed is not None and _has_ended(answer)
                if not ended and answer.status not in MOVED:
                    none_left = later and answer.status == 204
                    page = SentPage(nothing=True) if none_left else self._read(answer, room)
                    self._was_good = True
                    return page, url
                location = answer.getheader("Location")
            if ended and self._renewed is not None:
                self._login, self._was_good = self._renewed(), False
                continue
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
            raise _status(answer, self._login.secret)
        if answer.getheader("Content-Encoding", "identity").lower() != "identity":
            raise SnapshotRefused(_("The server compresses its answer though we asked it not to."))
        document = Document(self._limits, room)
        try:
            page = self._read_whole(answer, document)
        except SnapshotRefused as error:
            if error.foreign:
                error.sentence += said_by(document.begun, without=self._login.secret)
            raise
        told = of_headers(answer.getheaders())
        page.other_pages += [*told.others, *([told.found["next"]] if "next" in told.found else [])]
        page.links = told.found | page.links
        page.more += told.more
        page.pages, page.all_units = max(page.pages, told.pages), max(page.all_units, told.units)
        return page

    def _read_whole(self, answer: http.client.HTTPResponse, document: Document) -> SentPage:
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


def _has_ended(answer: http.client.HTTPResponse) -> bool:
    """Whether a token that was good before is refused now (RFC 6750, 3.1)."""
    told = answer.getheader("WWW-Authenticate", "").lower()
    return answer.status == 401 or (answer.status == 403 and "invalid_token" in told)


def _status(answer: http.client.HTTPResponse, secret: str) -> SnapshotRefused:
    status = answer.status
    words = said_by(answer.read(MOST_BYTES), answer.getheader("WWW-Authenticate", ""), without=secret)
    seconds, moment = wait_of(answer)
    if status in (401, 403):
        said = _("The server refuses the login ({status}). Check user name and password or token.")
    elif status in (404, 410):
        said = _("The server has nothing at this address ({status}).")
    elif status in (429, 503):
        said = _("The server asks us to wait ({status}).")
    elif status >= 500:
        said = _("The server reports an error of its own ({status}).")
    else:
        said = _("The server answered {status} instead of a snapshot.")
    return SnapshotRefused(
        said.format(status=status) + words,
        wrong_login=status in (401, 403),
        retry_after=seconds,
        retry_at=moment,
    )
