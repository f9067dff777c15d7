"""From which address somebody calls, and which addresses are one caller's."""

import ipaddress
import logging
from functools import cache

from django.conf import settings
from django.http import HttpRequest
from django.utils.translation import gettext as _

UNTOLD = "0.0.0.0"
"""Stands for an address that nobody told, as on a Unix socket. All such callers are counted as one."""

IPV6_HOME = 64
"""Bits of an IPv6 address that one subscriber shares; the rest is theirs to choose (RFC 4291, 2.5.1)."""

FORWARDED = "X-Forwarded-For"
log = logging.getLogger(__name__)


def network_of(request: HttpRequest) -> str:
    """Return what the caller is counted under: an IPv4 address, the /64 of an IPv6 address, or UNTOLD."""
    address = _parsed(_told(request)) or _parsed(request.META.get("REMOTE_ADDR", ""))
    if address is None:
        return UNTOLD
    if address.version == 6:
        return str(ipaddress.ip_network((address.packed, IPV6_HOME), strict=False).network_address)
    return str(address)


def shown(network: str | None) -> str:
    """Return a network as a person reads it."""
    if not network or network == UNTOLD:
        return _("an unknown address")
    return f"{network}/{IPV6_HOME}" if ":" in network else network


def _told(request: HttpRequest) -> str:
    """The address that the outermost of our own proxies saw: what stands before it anybody may have written.

    Where there are fewer entries than proxies the request came round them, and the header isn't believed.
    """
    said = request.headers.get(FORWARDED, "")
    if not settings.PROXIES:
        if said:
            _say_that_nobody_is_believed()
        return ""
    entries = said.split(",")
    return entries[-settings.PROXIES] if len(entries) >= settings.PROXIES else ""


@cache
def _say_that_nobody_is_believed() -> None:
    """Once for each process: behind a proxy that isn't named all callers would be counted as one."""
    log.warning("%s came in but is not believed: HOURMARK_PROXIES is 0", FORWARDED)


def _parsed(written: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    """The address, also from `1.2.3.4:80`, `[::1]:80` and `fe80::1%eth0`; None for what is none."""
    written = written.strip()
    if written.startswith("["):
        written = written[1:].partition("]")[0]
    elif written.count(":") == 1:
        written = written.partition(":")[0]
    try:
        address = ipaddress.ip_address(written.partition("%")[0])
    except ValueError:
        return None
    return getattr(address, "ipv4_mapped", None) or address
