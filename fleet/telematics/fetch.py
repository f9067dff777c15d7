"""Gets one page of a snapshot: streamed, within limits, redirects judged hop by hop."""

import contextlib
import http.client
import socket
import ssl
import threading
import time
from base64 import b64encode
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from urllib.parse import SplitResult, urljoin

from fleet.telematics import network
from fleet.telematics.document import Document
from fleet.telematics.limits import MEGABYTE, Limits
from fleet.telematics.snapshot import SentPage, SnapshotRefused

BLOCK = 64 * 1024
MOVED = {301, 302, 303, 307, 308}
LATE = "The server had not sent everything within {seconds:.0f} s."
LONGEST_WAIT = 24 * 3600.0


@dataclass(frozen=True, slots=True)
class Login:
    """How a source lets one in. kind: one of TelematicsSource.Login. secret: the password or token."""

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
        self, url: str, login: Login, *, limits: Limits, inside: Sequence[network.Network] = ()
    ) -> None:
        self._login = login
        self._limits = limits
        self._inside = inside
        self._origin = network.origin_of(network.parts_of(url, plain=inside))
        self._deadline = time.monotonic() + limits.seconds
        self._left = limits.all_bytes

    def get(self, url: str, *, room: int) -> tuple[SentPage, str]:
        """Return the page and the address it came from in the end. room: units that may still come.

        Raises SnapshotRefused.
        """
        secure = False
        for _ in range(self._limits.redirects + 1):
            parts = network.parts_of(url, plain=self._inside)
            if secure and parts.scheme != "https":
                raise SnapshotRefused("The server leads from an encrypted address to an open one.")
            secure = parts.scheme == "https"
            with self._asked(parts) as answer:
                if answer.status not in MOVED:
                    return self._read(answer, room), url
                location = answer.getheader("Location")
            if not location:
                raise SnapshotRefused("The server leads elsewhere without saying where.")
            url = urljoin(url, location)
        raise SnapshotRefused(f"The server leads on and on: more than {self._limits.redirects} redirects.")

    @contextlib.contextmanager
    def _asked(self, parts: SplitResult) -> Iterator[http.client.HTTPResponse]:
        """Ask, and give the answer with its body still to be read."""
        addresses = network.find(parts, inside=self._inside)
        connection = _Connection(parts, addresses, timeout=self._limits.quiet)
        # each read has a limit of its own; whoever trickles byte by byte is cut off by the clock
        clock = threading.Timer(max(0.0, self._deadline - time.monotonic()), connection.cut)
        clock.daemon = True
        clock.start()
        try:
            connection.request("GET", _target(parts), headers=self._headers(parts))
            yield connection.getresponse()
        except TimeoutError:
            raise SnapshotRefused(
                self._in_time() or f"The server said nothing for {self._limits.quiet:.0f} s."
            ) from None
        except ssl.SSLCertVerificationError as error:
            raise SnapshotRefused(
                f"The server's certificate can't be trusted: {error.verify_message}."
            ) from None
        except (OSError, http.client.HTTPException) as error:
            raise SnapshotRefused(self._in_time() or _broken(error)) from None
        finally:
            clock.cancel()
            connection.close()

    def _in_time(self) -> str:
        """What to say when the time for the whole snapshot is over; '' when it isn't."""
        return LATE.format(seconds=self._limits.seconds) if time.monotonic() >= self._deadline else ""

    def _headers(self, parts: SplitResult) -> dict[str, str]:
        headers = {
            "Accept": "application/xml, text/xml;q=0.9, application/json;q=0.8",
            "Accept-Encoding": "identity",
            "User-Agent": "Hourmark",
        }
        return headers | (self._login.header() if network.origin_of(parts) == self._origin else {})

    def _read(self, answer: http.client.HTTPResponse, room: int) -> SentPage:
        if answer.status != 200:
            raise _status(answer)
        if answer.getheader("Content-Encoding", "identity").lower() != "identity":
            raise SnapshotRefused("The server packs its answer though it was asked not to.")
        document = Document(self._limits, room)
        while block := answer.read1(BLOCK):
            self._left -= len(block)
            if self._left < 0:
                most = self._limits.all_bytes / MEGABYTE
                raise SnapshotRefused(f"The snapshot is larger than {most:.0f} MB; it was cut off there.")
            document.feed(block)
            if late := self._in_time():
                raise SnapshotRefused(late)
        if late := self._in_time():
            raise SnapshotRefused(late)
        if answer.length:
            raise SnapshotRefused("Only half a document came; the connection ended before its end.")
        return document.finish()


class _Connection(http.client.HTTPConnection):
    """A connection to one of the addresses that were judged, whatever their name means by now."""

    def __init__(self, parts: SplitResult, addresses: Sequence[str], *, timeout: float) -> None:
        _, host, port = network.origin_of(parts)
        super().__init__(host, port, timeout=timeout)
        self._addresses = addresses
        self._secure = parts.scheme == "https"
        if self._secure:
            self.default_port = 443
        self._was_cut = False

    def connect(self) -> None:
        """Open it; over TLS the certificate must be the host's."""
        self.sock = self._reached()
        if self._was_cut:
            self.cut()
        if self._secure:
            context = ssl.create_default_context()
            self.sock = context.wrap_socket(
                self.sock, server_hostname=self.host, do_handshake_on_connect=False
            )
            self.sock.do_handshake()

    def _reached(self) -> socket.socket:
        """A socket to the first address that answers; raises OSError of the last when none does."""
        *others, last = self._addresses
        for address in others:
            with contextlib.suppress(OSError):
                return socket.create_connection((address, self.port), self.timeout)
        return socket.create_connection((last, self.port), self.timeout)

    def cut(self) -> None:
        """End it from another thread; whoever reads from it gets nothing more."""
        self._was_cut = True
        if self.sock is not None:
            with contextlib.suppress(OSError):
                socket.socket.shutdown(self.sock, socket.SHUT_RDWR)


def _target(parts: SplitResult) -> str:
    target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    if any(character <= " " or character >= "\x7f" for character in target):
        raise SnapshotRefused("The address holds characters that must be written in their %-form.")
    return target


def _broken(error: Exception) -> str:
    if isinstance(error, ConnectionRefusedError):
        return "Nobody answers at this address."
    if isinstance(error, http.client.HTTPException):
        return "The server's answer is not what HTTP allows, or it ended halfway."
    return f"The connection failed: {getattr(error, 'strerror', None) or error}."


def _status(answer: http.client.HTTPResponse) -> SnapshotRefused:
    status = answer.status
    if status in (401, 403):
        return SnapshotRefused(
            f"The server refuses the login ({status}); check user name and password or token.",
            wrong_login=True,
        )
    if status in (404, 410):
        return SnapshotRefused(f"The server has nothing at this address ({status}).")
    if status in (429, 503):
        asked = answer.getheader("Retry-After", "")
        wait = min(float(asked), LONGEST_WAIT) if asked.isascii() and asked.isdigit() else None
        return SnapshotRefused(f"The server asks to be left alone for a while ({status}).", retry_after=wait)
    if status >= 500:
        return SnapshotRefused(f"The server has trouble of its own ({status}).")
    return SnapshotRefused(f"The server answered {status} instead of a snapshot.")
