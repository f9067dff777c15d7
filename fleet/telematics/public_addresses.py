"""Which IP addresses are of the public internet: none that a registry sets apart, nor one that wraps such.

Sources: the IANA IPv4 and IPv6 Special-Purpose Address Registries (RFC 6890 and what was added since), as of
2025; RFC 3879 for the site-local addresses that were given up; RFC 4291 for multicast and for the addresses
that wrap an IPv4 address. An IPv6 address is public only within 2000::/3, the one block that is given out
(IANA IPv6 Global Unicast Address Assignments).
"""

import ipaddress

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Network = ipaddress.IPv4Network | ipaddress.IPv6Network

GIVEN_OUT = ipaddress.IPv6Network("2000::/3")
NAT64 = ipaddress.IPv6Network("64:ff9b::/96")  # RFC 6052: the last 32 bits are an IPv4 address

APART: tuple[Network, ...] = tuple(
    ipaddress.ip_network(each)
    for each in (
        "0.0.0.0/8",  # this network, RFC 791
        "10.0.0.0/8",  # private use, RFC 1918
        "100.64.0.0/10",  # shared by carriers, RFC 6598
        "127.0.0.0/8",  # loopback, RFC 1122
        "169.254.0.0/16",  # link local, RFC 3927
        "172.16.0.0/12",  # private use, RFC 1918
        "192.0.0.0/24",  # protocol assignments, RFC 6890; its anycast addresses serve no snapshots
        "192.0.2.0/24",  # documentation, RFC 5737
        "192.31.196.0/24",  # AS112, RFC 7535
        "192.52.193.0/24",  # AMT, RFC 7450
        "192.88.99.0/24",  # 6to4 relays, RFC 7526
        "192.168.0.0/16",  # private use, RFC 1918
        "192.175.48.0/24",  # AS112, RFC 7534
        "198.18.0.0/15",  # benchmarking, RFC 2544
        "198.51.100.0/24",  # documentation, RFC 5737
        "203.0.113.0/24",  # documentation, RFC 5737
        "224.0.0.0/4",  # multicast, RFC 5771
        "240.0.0.0/4",  # reserved, RFC 1112, with the broadcast address
        "::/96",  # unspecified, loopback and IPv4-compatible, RFC 4291
        "64:ff9b:1::/48",  # translation inside a network, RFC 8215
        "100::/64",  # discard only, RFC 6666
        "100:0:0:1::/64",  # dummy prefix, RFC 9780
        "2001::/23",  # protocol assignments, RFC 2928: Teredo, benchmarking, ORCHID, AMT and the rest
        "2001:db8::/32",  # documentation, RFC 3849
        "2620:4f:8000::/48",  # AS112, RFC 7534
        "3fff::/20",  # documentation, RFC 9637
        "5f00::/16",  # segment routing, RFC 9602
        "fc00::/7",  # unique local, RFC 4193
        "fe80::/10",  # link local, RFC 4291
        "fec0::/10",  # site local, RFC 3879
        "ff00::/8",  # multicast, RFC 4291
    )
)


def is_public(address: Address) -> bool:
    """Whether it is an address of the public internet; one that wraps an IPv4 address is judged by that.

    One with a zone (`fe80::1%eth0`) names a network of this machine, so it never is.
    """
    if isinstance(address, ipaddress.IPv6Address):
        if address.scope_id is not None:
            return False
        if (wrapped := _wrapped(address)) is not None:
            return is_public(wrapped)
        if address not in GIVEN_OUT:
            return False
    return not any(address in network for network in APART)


def _wrapped(address: ipaddress.IPv6Address) -> ipaddress.IPv4Address | None:
    """The IPv4 address that it is mapped from (RFC 4291), leads to by 6to4 (RFC 3056) or NAT64 (RFC 6052)."""
    if address in NAT64:
        return ipaddress.IPv4Address(int(address) & 0xFFFFFFFF)
    return address.ipv4_mapped or address.sixtofour
