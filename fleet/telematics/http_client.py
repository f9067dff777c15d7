"""One request and its answer: to an address that was judged, and cut off when the time is over."""

import contextlib
import http.client
import socket
import ssl
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from urllib.parse import SplitResult

from django.utils.translation import gettext as _

from fleet.telematics import allowed_addresses
from fleet.telematics.limits import Limits
from fleet.telematics.public_addresses import Network
from fleet.telematics.snapshot import SnapshotRefused

ALWAYS = {"Accept-Encoding": "identity", "User-Agent": "Hourmark"}


class Line:
    """Asks servers, one request at a time, within the time that all of them have together."""

    def __init__(self, *, limits: Limits, inside: Sequence[Network]) -> None:
        self._limits = limits
        self._inside = inside
        self._deadline = time.monotonic() + limits.seconds

    @contextlib.contextmanager
    def ask(
        self,
        parts: SplitResult,
        headers: Mapping[str, str],
        *,
        method: str = "GET",
        body: bytes | None = None,
    ) -> Iterator[http.client.HTTPResponse]:
        """Ask, and give the answer with its body still to be read. Raises SnapshotRefused."""
        addresses = allowed_addresses.find(parts, inside=self._inside)
        connection = _Connection(parts, addresses, timeout=self._limits.quiet)
        # each read has a limit of its own; whoever trickles byte by byte is cut off by the clock
        clock = threading.Timer(max(0.0, self._deadline - time.monotonic()), connection.cut)
        clock.daemon = True
        clock.start()
        try:
            connection.request(method, _target(parts), body, headers={**ALWAYS, **headers})
            yield connection.getresponse()
        except TimeoutError:
            said = _("The server did not answer for {seconds} s.")
            raise SnapshotRefused(self.late() or said.format(seconds=f"{self._limits.quiet:.0f}")) from None
        except ssl.SSLCertVerificationError as error:
            said = _("The server's certificate can't be trusted: {why}.")
            raise SnapshotRefused(said.format(why=error.verify_message)) from None
        except (OSError, http.client.HTTPException) as error:
            raise SnapshotRefused(self.late() or _broken(error)) from None
        finally:
            clock.cancel()
            connection.close()

    def late(self) -> str:
        """What to say when the time is over; '' while it isn't."""
        if time.monotonic() < self._deadline:
            return ""
        said = _("The server had not sent everything within {seconds} s.")
        return said.format(seconds=f"{self._limits.seconds:.0f}")


class _Connection(http.client.HTTPConnection):
    """A connection to one of the addresses that were judged, whatever their name means by now."""

    def __init__(self, parts: SplitResult, addresses: Sequence[str], *, timeout: float) -> None:
        _scheme, host, port = allowed_addresses.origin_of(parts)
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
        raise SnapshotRefused(_("The address holds characters that must be written in their %-form."))
    return target


def _broken(error: Exception) -> str:
    if isinstance(error, ConnectionRefusedError):
        return _("No server answers at this address.")
    if isinstance(error, http.client.HTTPException):
        return _("The server's answer is not valid HTTP, or was cut short.")
    return _("The connection failed: {why}.").format(why=getattr(error, "strerror", None) or error)
