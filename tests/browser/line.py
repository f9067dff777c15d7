"""The line between a phone and the house, which can be cut.

Playwright's `set_offline` does not reach a service worker that starts later, so the line itself is cut: every
connection runs through here, and while it is cut those that stand are dropped and new ones refused. What a
phone said into a cut line is lost: it won't come once the line is back, however late this relay gets to it.
"""

import contextlib
import select
import socket
import threading
from urllib.parse import urlsplit


class Line:
    """A relay on a port of its own. `address`: what the phone connects to."""

    def __init__(self, site: str) -> None:
        self._house = (str(urlsplit(site).hostname), int(urlsplit(site).port or 80))
        self._open: set[socket.socket] = set()
        self._cut = False
        self._lock = threading.Lock()
        self._door = socket.create_server(("127.0.0.1", 0))
        self._door.setblocking(False)
        self.address = f"http://127.0.0.1:{self._door.getsockname()[1]}"
        threading.Thread(target=self._listen, daemon=True).start()

    def cut(self) -> None:
        """Drop every connection and take no new one."""
        with self._lock:
            self._cut = True
            standing, self._open = self._open, set()
        for each in standing:
            _end(each)

    def join(self) -> None:
        """Let connections through again, but none that came while the line was cut."""
        with self._lock:
            while late := self._accept():
                _end(late)
            self._cut = False

    def close(self) -> None:
        """Take the line down."""
        self.cut()
        _end(self._door)

    def _accept(self) -> socket.socket | None:
        try:
            phone, _ = self._door.accept()
        except BlockingIOError:
            return None
        phone.setblocking(True)
        return phone

    def _listen(self) -> None:
        with contextlib.suppress(OSError, ValueError):  # the door is closed
            while select.select([self._door], [], []):
                self._let_in()

    def _let_in(self) -> None:
        with self._lock:
            phone = self._accept()
            if phone and not self._cut:
                self._open.add(phone)
                threading.Thread(target=self._carry, args=(phone,), daemon=True).start()
            elif phone:
                _end(phone)

    def _carry(self, phone: socket.socket) -> None:
        try:
            house = socket.create_connection(self._house)
        except OSError:
            _end(phone)
            return
        with self._lock:
            stands = phone in self._open
            if stands:
                self._open.add(house)
        if not stands:  # cut meanwhile
            _end(house)
            return
        threading.Thread(target=_pump, args=(house, phone), daemon=True).start()
        _pump(phone, house)


def _pump(one: socket.socket, other: socket.socket) -> None:
    with contextlib.suppress(OSError):
        while piece := one.recv(65536):
            other.sendall(piece)
    _end(one)
    _end(other)


def _end(each: socket.socket) -> None:
    with contextlib.suppress(OSError):
        each.shutdown(socket.SHUT_RDWR)
    each.close()
