"""Which addresses may be asked: those of the public internet, and the networks the installation names.

A name is looked up once and the connection goes to the address that was judged, so that a name can't mean
one machine while it is judged and another while it is asked. Every redirect and every next page is judged so.
"""

import ipaddress
import socket
from collections.abc import Sequence
from urllib.parse import SplitResult, urlsplit

from django.utils.translation import gettext as _

from fleet.telematics.public_addresses import Network, is_public
from fleet.telematics.snapshot import SnapshotRefused

PORTS = {"http": 80, "https": 443}


def parts_of(url: str, *, plain: Sequence[Network]) -> SplitResult:
    """Split an address that may be asked, as far as its words tell. Raises SnapshotRefused.

    plain: networks to which a connection may go unencrypted; without any, only https may be asked.
    """
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError:
        raise SnapshotRefused(_unreadable(url)) from None
    schemes = ("https", "http") if plain else ("https",)
    if parts.scheme not in schemes or not parts.hostname:
        said = _("{address} is not an address we read. It must begin with https://.")
        raise SnapshotRefused(said.format(address=repr(url[:200])))
    if parts.username is not None or parts.password is not None:
        raise SnapshotRefused(_("The address contains a login. Enter that in its own fields."))
    if port == 0:
        raise SnapshotRefused(_unreadable(url))
    return parts


def _unreadable(url: str) -> str:
    return _("{address} is not an address we can read. Check it.").format(address=repr(url[:200]))


def origin_of(parts: SplitResult) -> tuple[str, str, int]:
    """Return scheme, host and port: a login is sent to no other of these than the source's own."""
    return parts.scheme, (parts.hostname or "").lower(), parts.port or PORTS[parts.scheme]


def find(parts: SplitResult, *, inside: Sequence[Network]) -> list[str]:
    """Return the host's IP addresses, the best first. Raises SnapshotRefused when it may not be asked.

    All of a name's addresses must be allowed: a name of which one leads inside is not asked at all.
    """
    host, port = parts.hostname or "", origin_of(parts)[2]
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError):
        said = _("There is no server named {host}. Check the address.").format(host=host[:200])
        raise SnapshotRefused(said) from None
    addresses = [ipaddress.ip_address(str(each[4][0])) for each in found]
    for address in addresses:
        allowed = any(address in network for network in inside)
        if parts.scheme == "http" and not allowed:
            said = _("{host} is only read over https. Change the address.")
            raise SnapshotRefused(said.format(host=host[:200]))
        if not (allowed or is_public(address)):
            said = _("{host} is an address in a private network. We only read public ones.")
            raise SnapshotRefused(said.format(host=host[:200]))
    return list(dict.fromkeys(map(str, addresses)))
